package gate

import (
	"net/http"

	"github.com/labstack/echo/v4"
)

type State struct {
	Status string `json:"status"`
	Reason string `json:"reason,omitempty"`
}

// Readiness answers whether requests can be served, and why not in a word,
// since nobody has authenticated.
func (g *Gate) Readiness(c echo.Context) error {
	ctx := c.Request().Context()
	why, fresh := g.probe.ready(ctx)
	if why == nil {
		return c.JSON(http.StatusOK, State{Status: "ready"})
	}
	if fresh {
		g.Log.WarnContext(ctx, "not ready", "error", why.Error())
	}
	return c.JSON(http.StatusServiceUnavailable,
		State{"not ready", "the database is not reachable or its schema does not fit this release"})
}
