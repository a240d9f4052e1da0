package gate

import (
	"bytes"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/request"
)

// authenticate finds out who is calling, and whether the token carries the
// operation's scope and the holder has a role that may do it; an operation that needs no token is let through without a
// caller. It stands before everything that reads the body.
func (g *Gate) authenticate(op *contract.Operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			r := c.Request()
			if r.ContentLength > op.BodyLimit && len(op.Media) > 0 {
				return tooLarge(op.BodyLimit)
			}
			if op.Free { // a token that comes along is not looked at
				if got := g.addresses.take(network(c.RealIP())); !got.ok {
					return g.addresses.refuse(c.Response().Header(), got)
				}
				return next(c)
			}
			who, err := g.recognise(c, op)
			known(c, op, who, err)
			if err != nil {
				return err
			}
			if err := g.limitToken(c, who); err != nil {
				return err
			}
			g.Heard(who.Centre)
			if err := permit(op, who); err != nil {
				return err
			}
			c.SetRequest(withoutTicket(r.WithContext(request.WithCaller(r.Context(), who)), op))
			return next(c)
		}
	}
}

// admit lets a request through that keeps the contract.
func (g *Gate) admit(op *contract.Operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			body, err := readBody(c.Request(), op)
			if err != nil {
				return err
			}
			if err := g.contract.CheckRequest(c.Request(), op, body); err != nil {
				return err
			}
			c.SetRequest(request.WithCall(c.Request(), body))
			return next(c)
		}
	}
}

// readBody reads the whole body, so that it can be checked before it is used. The
// body of an operation that takes none means nothing (RFC 9110, section 9.3.1): it
// is not read.
func readBody(r *http.Request, op *contract.Operation) ([]byte, error) {
	if len(op.Media) == 0 {
		r.Body, r.ContentLength = http.NoBody, 0
		r.Header.Del("Content-Type")
		return nil, nil
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, op.BodyLimit+1))
	switch {
	case err != nil:
		return nil, fault.New(fault.Malformed, "invalid_request",
			"The body broke off. Send the request again.").Because(err)
	case int64(len(body)) > op.BodyLimit:
		return nil, tooLarge(op.BodyLimit)
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	r.ContentLength = int64(len(body))
	if len(body) == 0 {
		r.Header.Del("Content-Type")
		if op.BodyNeeded {
			return nil, contract.MissingBody()
		}
		return nil, nil
	}
	media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || !slices.Contains(op.Media, media) {
		return nil, unsupported(op)
	}
	return body, nil
}

func tooLarge(limit int64) error {
	return fault.New(fault.TooLarge, "too_large",
		fmt.Sprintf("The body is larger than %d KiB, which is as much as this operation takes.", limit>>10)).
		Param("limit_kib", limit>>10)
}

func unsupported(op *contract.Operation) error {
	takes := "no body"
	if len(op.Media) > 0 {
		takes = strings.Join(op.Media, " or ")
	}
	return fault.New(fault.Unsupported, "unsupported_media_type",
		fmt.Sprintf("This operation takes %s.", takes)).
		Param("takes", takes)
}

// asked lets a request through whose query can be read whole, before anything
// else looks at it: of one that is read in part, dry_run or a filter could be
// lost.
func asked(op *contract.Operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			c.Set(keyOperation, op.ID)
			if found := contract.ReadQuery(c.Request().URL.RawQuery, op); len(found) > 0 {
				return contract.Breach(found)
			}
			return next(c)
		}
	}
}

// Binder decodes a body that has been checked against the contract. Echo's
// own binder does not know application/merge-patch+json.
type Binder struct{}

// Bind decodes the body; io.EOF says that there is none.
func (Binder) Bind(into any, c echo.Context) error {
	body, err := io.ReadAll(c.Request().Body)
	switch {
	case err != nil:
		return err
	case len(body) == 0:
		return io.EOF
	}
	return contract.DecodeBody(body, into)
}
