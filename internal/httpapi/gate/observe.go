package gate

import (
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"tankside/internal/fault"
	"tankside/internal/httpapi/request"
)

// observe writes one line for each request: the route and not the path or the
// query, since they can identify a person, and who called by ids alone. Errors become
// answers here, so that the line has their status.
func (g *Gate) observe(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		began := time.Now()
		if err := next(c); err != nil {
			c.Error(err)
		}
		operation, _ := c.Get(keyOperation).(string)
		g.Log.LogAttrs(c.Request().Context(), slog.LevelInfo, "request", append([]slog.Attr{
			slog.String("request_id", request.ID(c)),
			slog.String("method", c.Request().Method),
			slog.String("route", c.Path()),
			slog.String("operation", operation),
			slog.String("address", c.RealIP()),
			slog.Int("status", c.Response().Status),
			slog.Int64("bytes", c.Response().Size),
			slog.Float64("duration_ms", float64(time.Since(began).Microseconds())/1000),
		}, caller(c)...)...)
		return nil
	}
}

// recoverPanics turns a panic into an internal fault; the stack goes to the log.
func (g *Gate) recoverPanics(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			p := recover()
			if p == nil {
				return
			}
			if p == http.ErrAbortHandler {
				panic(p)
			}
			g.Log.Error("panic", "request_id", request.ID(c), "panic", fmt.Sprint(p), "stack",
				string(debug.Stack()))
			err = fault.New(fault.Internal, "internal", "").Because(fmt.Errorf("panic: %v", p))
		}()
		return next(c)
	}
}

// secure sets the headers that keep an answer from being used otherwise than
// it is meant.
func secure(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		h.Set("Cache-Control", "no-store")
		return next(c)
	}
}

// cors lets the configured origins call from a browser. It answers preflights
// before anybody has authenticated, and its headers are on errors too.
func (g *Gate) cors() echo.MiddlewareFunc {
	if len(g.Origins) == 0 {
		return func(next echo.HandlerFunc) echo.HandlerFunc { return next }
	}
	return middleware.CORSWithConfig(middleware.CORSConfig{
		AllowOrigins: g.Origins,
		AllowMethods: []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut,
			http.MethodPatch, http.MethodDelete},
		AllowHeaders: []string{"Authorization", "Content-Type", "If-Match", "If-None-Match", "Last-Event-ID"},
		ExposeHeaders: []string{"ETag", "Location", "Link", "Retry-After", request.IDHeader,
			"RateLimit", "RateLimit-Policy"},
		MaxAge: 7200, // seconds; browsers keep a preflight no longer than two hours
	})
}
