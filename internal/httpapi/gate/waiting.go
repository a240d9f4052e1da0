package gate

import (
	"encoding/json"
	"log/slog"
	"net/http"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"tankside/internal/fault"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/request"
)

// Waiting answers while the service cannot serve yet: it is alive, it is not
// ready, and every other request is to be sent again.
func Waiting(log *slog.Logger) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /livez",
		func(w http.ResponseWriter, _ *http.Request) { writeState(w, http.StatusOK, State{Status: "alive"}) })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, _ *http.Request) {
		writeState(w, http.StatusServiceUnavailable,
			State{"not ready", "the service is starting: it waits for the database, or moves its schema"})
	})
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		id := uuid.Must(uuid.NewV7()).String()
		f := fault.New(fault.Unavailable, "starting",
			"The service is starting. Send the same request again in a moment; nothing of it was done.")
		h := w.Header()
		h.Set(request.IDHeader, id)
		h.Set("Retry-After", answer.RetryAfter)
		h.Set("Content-Type", "application/problem+json")
		h.Set("Cache-Control", "no-store")
		h.Set("X-Content-Type-Options", "nosniff")
		w.WriteHeader(answer.Statuses[f.Kind])
		_ = json.NewEncoder(w).Encode(answer.Problem(f, answer.Statuses[f.Kind], id)) // the caller has gone away
		log.LogAttrs(r.Context(), slog.LevelInfo, "request while starting", slog.String("request_id", id),
			slog.String("method", r.Method))
	})
	return mux
}

// Leaving answers readiness while the service is about to stop: whoever shares out
// requests is told before the listener closes.
func Leaving(w http.ResponseWriter, _ *http.Request) {
	writeState(w, http.StatusServiceUnavailable, State{"not ready", "the service is about to stop"})
}

func writeState(w http.ResponseWriter, status int, s State) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(s) // the caller has gone away
}

// fits lets nothing through while the schema is not one that this release runs on:
// what it would read and write means something else there.
func (g *Gate) fits(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if g.Fits == nil {
			return next(c)
		}
		if err := g.Fits(c.Request().Context()); err != nil {
			return fault.New(fault.Unavailable, "schema_unfit",
				"The database does not fit this release of the service yet. "+
					"Send the same request again in a moment; nothing of it was done. Where it lasts, the operator of the service has to migrate.").Because(err)
		}
		return next(c)
	}
}
