package answer

import (
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"regexp"
	"strings"

	"github.com/labstack/echo/v4"

	"tankside/internal/httpapi/contract"
)

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

// WhenChanged sets an ETag for what is read, and answers 304 when the caller has that
// answer already. That of a thing which is edited begins with its version, for
// If-Match; that alone says nothing of what else the answer shows, such as how
// many are enrolled. Every other is weak. What is about people is not kept by a
// browser: there the caller alone remembers the ETag.
func WhenChanged(op *contract.Operation) echo.MiddlewareFunc {
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
			if Matches(c.Request().Header.Get("If-None-Match"), tag) {
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

// Matches compares weakly (RFC 9110, section 13.1.2).
func Matches(header, tag string) bool {
	for candidate := range strings.SplitSeq(header, ",") {
		candidate = strings.TrimSpace(candidate)
		if candidate == "*" || strings.TrimPrefix(candidate, "W/") == strings.TrimPrefix(tag, "W/") {
			return true
		}
	}
	return false
}
