package cli

import (
	"tankside/internal/finding"
	"tankside/internal/units"
)

// Findings and quantities as the contract spells them (openapi.yaml, schemas
// Finding, Amount, Cure, Subject and the quantities).
type (
	quantity struct {
		Value float64 `json:"value"`
		Unit  string  `json:"unit"`
	}
	findingOut struct {
		Rule     string         `json:"rule"`
		Severity string         `json:"severity"`
		Message  string         `json:"message"`
		Params   map[string]any `json:"params"`
		Limit    *amountOut     `json:"limit"`
		Found    *amountOut     `json:"found"`
		Cures    []cureOut      `json:"cures"`
		Subjects []subjectOut   `json:"subjects"`
		In       *string        `json:"in"`
		Pointer  *string        `json:"pointer"`
		Line     *int           `json:"line"`
		Column   *int           `json:"column"`
		Source   *string        `json:"source"`
	}
	amountOut struct {
		Text  string   `json:"text"`
		Value *float64 `json:"value"`
		Unit  *string  `json:"unit"`
		On    *string  `json:"on"`
	}
	cureOut struct {
		Code    string `json:"code"`
		Message string `json:"message"`
	}
	subjectOut struct {
		Type string `json:"type"`
		ID   string `json:"id"`
	}
)

func quantityOut(r units.Reading) quantity { return quantity{r.Value.Float(), string(r.Unit)} }

func findingsOut(l finding.List) []findingOut {
	out := make([]findingOut, 0, len(l))
	for _, f := range l {
		o := findingOut{Rule: f.Rule, Severity: string(f.Severity), Message: f.Message, Params: f.Params,
			Limit: amount(f.Limit), Found: amount(f.Found), Cures: []cureOut{}, Subjects: []subjectOut{},
			In: unless(f.In, ""), Pointer: unless(f.Pointer, ""), Line: unless(f.Line, 0), Column: unless(f.Column, 0), Source: unless(f.Source, "")}
		if o.Params == nil {
			o.Params = map[string]any{}
		}
		for _, c := range f.Cures {
			o.Cures = append(o.Cures, cureOut(c))
		}
		for _, s := range f.Subjects {
			o.Subjects = append(o.Subjects, subjectOut(s))
		}
		out = append(out, o)
	}
	return out
}

func amount(a *finding.Amount) *amountOut {
	if a == nil {
		return nil
	}
	return &amountOut{Text: a.Text, Value: a.Value, Unit: unless(a.Unit, ""), On: unless(a.On, "")}
}

// unless gives null for the value that means nothing.
func unless[T comparable](v, nothing T) *T {
	if v == nothing {
		return nil
	}
	return &v
}
