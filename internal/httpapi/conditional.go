package httpapi

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"regexp"
	"strings"

	"github.com/labstack/echo/v4"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
	"tankside/internal/pg"
)

// held is an answer that is looked at before it leaves.
type held struct {
	http.ResponseWriter
	status int
	body   bytes.Buffer
}

func (h *held) WriteHeader(status int)      { h.status = status }
func (h *held) Write(b []byte) (int, error) { return h.body.Write(b) }

// hold runs the handler and keeps back what it writes.
func hold(c echo.Context, next echo.HandlerFunc) (*held, error) {
	wire := c.Response().Writer
	h := &held{ResponseWriter: wire, status: http.StatusOK}
	c.SetResponse(echo.NewResponse(h, c.Echo()))
	defer func() { c.SetResponse(echo.NewResponse(wire, c.Echo())) }() // after a panic too, or its answer would be kept back
	return h, next(c)
}

// ofReading are the members that tell one reading from another and say nothing
// about what is read, such as when a record was made: with them, no answer would
// ever be the same. A quote within a JSON text is escaped, so nothing else looks
// like it. made_at of a version of a syllabus goes with its id.
var ofReading = regexp.MustCompile(`"(updated_token|now_at|made_at)":"[^"]*"`)

// keepable reports whether a browser may keep an answer on disk, to ask whether it
// is still so: what is about courses, sites and the centre, and not about people.
func keepable(op *contract.Operation) bool {
	return (op.Scope == "centre:read" || op.Scope == "courses:read") && !strings.Contains(op.Path, "enrolments")
}

// How long an answer may be kept: what changes is asked for again each time, and
// what never changes for a year (RFC 8246).
const (
	askAgain = "private, no-cache"
	lasting  = "private, max-age=31536000, immutable"
)

// whenChanged sets an ETag for what is read, and answers 304 when the caller has that
// answer already. That of a thing which is edited begins with its version, for
// If-Match; that alone says nothing of what else the answer shows, such as how
// many are enrolled. Every other is weak. What is about people is not kept by a
// browser: there the caller alone remembers the ETag.
func whenChanged(op *contract.Operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			answer, err := hold(c, next)
			if err != nil {
				return err
			}
			sum := sha256.Sum256(ofReading.ReplaceAll(answer.body.Bytes(), nil))
			h := c.Response().Header()
			tag := `W/"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`
			if version, edited := strings.CutSuffix(h.Get("ETag"), `"`); edited {
				tag = version + "." + base64.RawURLEncoding.EncodeToString(sum[:6]) + `"`
			}
			h.Set("ETag", tag)
			switch {
			case op.Lasting:
				h.Set("Cache-Control", lasting)
			case keepable(op):
				h.Set("Cache-Control", askAgain)
			}
			if matches(c.Request().Header.Get("If-None-Match"), tag) {
				h.Del("Content-Type")
				h.Del("Link")
				return c.NoContent(http.StatusNotModified)
			}
			c.Response().WriteHeader(answer.status)
			_, err = answer.body.WriteTo(c.Response())
			return err
		}
	}
}

// matches compares weakly (RFC 9110, section 13.1.2).
func matches(header, tag string) bool {
	for candidate := range strings.SplitSeq(header, ",") {
		candidate = strings.TrimSpace(candidate)
		if candidate == "*" || strings.TrimPrefix(candidate, "W/") == strings.TrimPrefix(tag, "W/") {
			return true
		}
	}
	return false
}

// decided answers a request that the rules may refuse with the decision beside the
// result. With dry_run=true the service runs as ever, in a transaction that is
// always rolled back, and the result is null: a refusal by the rules is then
// allowed=false with what they found, and any other error stays an error.
func decided(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		dry := c.QueryParam("dry_run") == "true"
		if dry {
			c.SetRequest(c.Request().WithContext(pg.Dry(c.Request().Context())))
		}
		answer, err := hold(c, next)
		if err != nil {
			if f, _ := faultOf(err); dry && f.Kind == fault.Refused {
				found := findings(refusalAt(c, f).Findings)
				return c.JSON(http.StatusOK, decision{Decision: api.Decision{Findings: found}})
			}
			return err
		}
		found, refused := foundIn(answer.body.Bytes())
		out := decision{Decision: api.Decision{Allowed: !refused, Findings: found}}
		if !dry {
			out.Result = bytes.TrimSpace(answer.body.Bytes())
			return c.JSON(answer.status, out)
		}
		for _, name := range []string{"ETag", "Location"} {
			c.Response().Header().Del(name)
		}
		return c.JSON(http.StatusOK, out)
	}
}

// decision is how the contract answers what the rules may refuse: the schemas whose
// name ends in Decided.
type decision struct {
	Decision api.Decision    `json:"decision"`
	Result   json.RawMessage `json:"result"` // nil is null
}

// foundIn returns the findings that an answer carries, those of each item of many
// included, and reports whether any item was refused.
func foundIn(body []byte) (found []api.Finding, refused bool) {
	type carrier struct {
		Findings []api.Finding `json:"findings"`
	}
	var answer struct {
		carrier
		Items []struct {
			carrier
			Problem *carrier `json:"problem"`
		} `json:"items"`
	}
	if json.Unmarshal(body, &answer) != nil {
		return []api.Finding{}, false
	}
	found = append([]api.Finding{}, answer.Findings...)
	for _, item := range answer.Items {
		found = append(found, item.Findings...)
		if item.Problem != nil {
			found, refused = append(found, item.Problem.Findings...), true
		}
	}
	return found, refused
}
