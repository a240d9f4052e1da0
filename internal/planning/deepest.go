package planning

import (
	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/gasplan"
	"tankside/internal/readiness"
	"tankside/internal/when"
)

// limits returns a participant's own depth limits on a dive, nil for every dive of the
// session, as a plan keeps them.
func (st planStage) limits(p planPart, dive *uuid.UUID) (out []gasplan.DepthLimit) {
	who := readiness.Diver{Role: dayview.Role(p.Role), Age: when.Age(p.BirthOn, st.OnDay),
		Syllabus: st.taught[st.syllabus]}
	if p.TaughtBy != nil {
		who.Syllabus = st.taught[*p.TaughtBy]
	}
	for _, l := range readiness.DepthLimits(st.View, st.books, who, dive) {
		out = append(out, gasplan.DepthLimit{Depth: gasplan.Of(l.Depth), Because: short(l.Because, 200),
			Source: short(l.Source, 300)})
	}
	return out
}

// short cuts a text to so many characters, the most that the contract lets a
// depth limit have.
func short(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}
