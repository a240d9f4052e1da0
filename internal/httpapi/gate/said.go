package gate

import (
	"log/slog"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/httpapi/contract"
)

// Names of what a request's line takes from the request's context.
const (
	keyOperation = "tankside.operation"
	keyCaller    = "tankside.caller"
)

// caller returns what the request's line says of who called: ids and never a
// name. A program has no id of its own, and is known by its token's. Of whoever
// was not recognised it is the centre that the token or ticket names, which
// nobody has confirmed.
func caller(c echo.Context) []slog.Attr {
	var said []slog.Attr
	if who, ok := c.Get(keyCaller).(actor.Actor); ok {
		said = append(said, slog.String("centre_id", who.Centre.String()),
			slog.String("token_id", who.Token.String()))
		if who.IsProgram() {
			return append(said, slog.Bool("program", true))
		}
		return append(said, slog.String("person_id", who.Person.String()))
	}
	if centre, ok := c.Get(keyCaller).(uuid.UUID); ok {
		said = append(said, slog.String("claimed_centre_id", centre.String()))
	}
	return said
}

// known notes who called for the request's line, or whose token was brought.
func known(c echo.Context, op *contract.Operation, by actor.Actor, err error) {
	if err == nil {
		c.Set(keyCaller, by)
		return
	}
	if secret, _, bad := credentials(c.Request(), op); bad == nil {
		if centre, ok := access.CentreOf(secret); ok {
			c.Set(keyCaller, centre)
		}
	}
}
