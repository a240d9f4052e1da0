package httpapi

import (
	"context"
	"fmt"
	"math/rand/v2"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/briefings"
	"tankside/internal/fault"
	"tankside/internal/gaswatch"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// practiceHandlers serves practice in signals.
type practiceHandlers struct {
	briefings *briefings.Service
	gaswatch  *gaswatch.Service
}

// conventionNamed finds a convention by its code, for a body that names it.
func (h practiceHandlers) conventionNamed(ctx context.Context, code string) (signal.Convention, error) {
	c, err := h.briefings.Convention(ctx, callerOf(ctx), code)
	if f, ok := fault.Of(err); ok && f.Kind == fault.NotFound {
		err = fault.UnknownReference("convention", "/convention")
	}
	return c.Convention, err
}

// conventionAsked reads the convention of a body: by its code, or given whole.
func (h practiceHandlers) conventionAsked(ctx context.Context,
	code *string, whole *api.ConventionDraft) (signal.Convention, error) {
	switch {
	case code == nil && whole == nil:
		return signal.Convention{},
			fault.Invalid("/convention",
				"Say in convention which signals the group uses, like digits_bar, or give them whole in convention_given.")
	case code != nil && whole != nil:
		return signal.Convention{},
			fault.Invalid("/convention_given", "Give convention or convention_given, not both.")
	case whole != nil:
		return conventionDraft(*whole), nil
	}
	return h.conventionNamed(ctx, *code)
}

// seedOr returns the seed that was asked for, or a new one that is short enough
// to be read out.
func seedOr(seed *int64) int64 {
	if seed == nil {
		return rand.Int64N(1_000_000_000)
	}
	return *seed
}

// shown writes a sequence of gestures; it is never null.
func shown(seq signal.Sequence) []api.Gesture {
	return each(seq, func(g signal.Gesture) api.Gesture {
		sight, _ := g.Sight()
		return gestureView(sight)
	})
}

// WriteDrillScript implements POST /v1/sessions/{id}/drill-scripts.
func (h practiceHandlers) WriteDrillScript(ctx context.Context,
	r api.WriteDrillScriptRequestObject) (api.WriteDrillScriptResponseObject, error) {
	c, err := h.conventionAsked(ctx, r.Body.Convention, r.Body.ConventionGiven)
	if err != nil {
		return nil, err
	}
	seed := seedOr(r.Body.Seed)
	script, err := h.gaswatch.WriteDrill(ctx, callerOf(ctx), r.ID,
		gaswatch.DrillRequest{Seed: uint64(seed), Convention: c,
			Participants: given(r.Body.ParticipantIds, nil),
			Pressures: each(given(r.Body.Pressures, nil), func(p api.DrillPressures) gaswatch.PressuresGiven {
				return gaswatch.PressuresGiven{ParticipantID: p.ParticipantID, Turn: optionalReading(p.Turn),
					Low: optionalReading(p.Low)}
			})})
	if err != nil {
		return nil, err
	}
	names := map[string]gaswatch.DrillStudent{}
	for _, d := range script.Students {
		names[d.ParticipantID.String()] = d
	}
	out := api.DrillScript{SessionID: r.ID, Seed: seed, Convention: orNull(r.Body.Convention),
		ConventionName: c.Name, Students: each(script.Students, drilledView),
		Cards: make([]api.DrillCard, 0, len(script.Cards)), Findings: findingsIn(r.ID,
			script.Findings), Caution: signal.Caution}
	for i, card := range script.Cards {
		out.Cards = append(out.Cards, cardView(i+1, card, c, names[card.Trainee]))
	}
	return api.WriteDrillScript200JSONResponse{DrillScriptJSONResponse: api.DrillScriptJSONResponse(out)}, nil
}

func drilledView(d gaswatch.DrillStudent) api.DrillStudent {
	return api.DrillStudent{ParticipantID: d.ParticipantID, PersonID: d.PersonID, PersonName: d.Name,
		GaugeUnit: string(d.GaugeUnit),
		Turn:      optionalQuantity(d.Turn), Low: optionalQuantity(d.Low), PressuresFrom: unlessEmpty(d.From),
		LeftOut: texts(d.LeftOut),
		CameBack: each(d.Back, func(b gaswatch.RepeatedMisreading) api.DrillCameBack {
			return api.DrillCameBack{Case: string(b.Case), EntryID: b.Entry, Because: b.Because}
		})}
}

func cardView(number int, c signal.Card, conv signal.Convention, d gaswatch.DrillStudent) api.DrillCard {
	return api.DrillCard{Number: number, Round: c.Round, ParticipantID: uuid.MustParse(c.Trainee),
		PersonName: d.Name, Case: string(c.Case), Title: c.Case.Title(),
		Reading: quantity(c.Reading), Report: quantity(conv.In(d.GaugeUnit).Down(c.Reading)), Show: shown(c.Show), Expect: c.Expect}
}

// The kinds of practice.
const (
	toReport = "report" // a gauge, to be reported by gestures
	toRead   = "read"   // gestures, to be read as a number
)

// GetPracticeQuestion implements GET /v1/practice/question.
func (h practiceHandlers) GetPracticeQuestion(ctx context.Context,
	r api.GetPracticeQuestionRequestObject) (api.GetPracticeQuestionResponseObject, error) {
	c, err := h.briefings.Convention(ctx, callerOf(ctx), r.Params.Convention)
	if err != nil {
		return nil, err
	}
	seed := seedOr(r.Params.Seed)
	q, err := question(c.Convention, r.Params.Unit, seed)
	if err != nil {
		return nil, err
	}
	out := api.PracticeQuestion{Kind: given(r.Params.Kind, toReport), Seed: seed, Convention: c.Code,
		Unit: string(q.Convention.Unit),
		Ask: fmt.Sprintf("The gauge shows %s. Report it.",
			q.Gauge), Gauge: optionalQuantity(&q.Gauge), Shown: nullable.NewNullNullable[[]api.Gesture]()}
	if out.Kind == toRead {
		out.Ask = fmt.Sprintf("Your partner shows: %s. How much gas is it?", q.Shown)
		out.Gauge, out.Shown = optionalQuantity(nil), nullable.NewNullableWithValue(shown(q.Shown))
	}
	return api.GetPracticeQuestion200JSONResponse(out), nil
}

// question makes the question of a seed, in another unit where one is given.
func question(c signal.Convention, unit *string, seed int64) (signal.Question, error) {
	if unit != nil {
		c = c.In(units.Unit(*unit))
	}
	q, refused := signal.Ask(uint64(seed), c)
	if refused.Forbids() {
		return q, fault.RefusedBy(refused)
	}
	return q, nil
}

// JudgePracticeAnswer implements POST /v1/practice/answers.
func (h practiceHandlers) JudgePracticeAnswer(ctx context.Context,
	r api.JudgePracticeAnswerRequestObject) (api.JudgePracticeAnswerResponseObject, error) {
	b := r.Body
	if (b.Gestures == nil) == (b.Reading == nil) {
		return nil, fault.Invalid("", "Answer either with gestures, or with the reading that was shown.")
	}
	c, err := h.conventionNamed(ctx, b.Convention)
	if err != nil {
		return nil, err
	}
	q, err := question(c, b.Unit, b.Seed)
	if err != nil {
		return nil, err
	}
	kind, judge := toRead, func() signal.Answer { return q.JudgeReading(reading(*b.Reading)) }
	if b.Gestures != nil {
		kind, judge = toReport, func() signal.Answer {
			return q.JudgeReport(each(*b.Gestures, func(g string) signal.Gesture { return signal.Gesture(g) }))
		}
	}
	judged := judge()
	return api.JudgePracticeAnswer200JSONResponse(api.PracticeAnswer{Kind: kind, Seed: b.Seed,
		Convention: c.Code, Unit: string(q.Convention.Unit),
		Verdict: string(judged.Verdict), Gauge: quantity(q.Gauge), Right: shown(judged.Right),
		RightReading: quantity(judged.RightIs),
		Findings:     findings(judged.Findings)}), nil
}
