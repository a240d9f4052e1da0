package request

import (
	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
)

// IDHeader is the header of an answer that names its request.
const IDHeader = "Request-Id"

// Identify answers every request with an id of ours. One that the caller sends is not
// taken over: it would let a caller write into the log.
func Identify(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Response().Header().Set(IDHeader, uuid.Must(uuid.NewV7()).String())
		return next(c)
	}
}

// ID returns the id of a request.
func ID(c echo.Context) string { return c.Response().Header().Get(IDHeader) }
