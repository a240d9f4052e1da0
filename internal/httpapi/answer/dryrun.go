package answer

import (
	"bytes"
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/form"
)

// Decided answers a request that the rules may refuse with the decision beside the
// result. With dry_run=true the handler has called a service whose transactions
// roll back, and the result is null: a refusal by the rules is then
// allowed=false with what they found, and any other error stays an error.
func Decided(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		dry := c.QueryParam("dry_run") == "true"
		answer, err := hold(c, next)
		if err != nil {
			if f, _ := FaultOf(err); dry && f.Kind == fault.Refused {
				found := form.Findings(refusalAt(c, f).Findings)
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
