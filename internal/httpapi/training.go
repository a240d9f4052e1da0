package httpapi

import (
	"context"
	"slices"

	"tankside/api"
	"tankside/internal/assessment"
	"tankside/internal/desk"
	"tankside/internal/units"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

// trainingHandlers serves dives, gas checks, drills, theory and credits.
type trainingHandlers struct {
	assessment *assessment.Service
	desk       *desk.Service
	waterlog   *waterlog.Service
}

// ListDives implements GET /v1/sessions/{id}/dives.
func (h trainingHandlers) ListDives(ctx context.Context,
	r api.ListDivesRequestObject) (api.ListDivesResponseObject, error) {
	list, err := h.desk.Dives(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(d waterlog.DiveLog) string { return d.ID.String() })
	if err != nil {
		return nil, err
	}
	logged := func(l waterview.Dive) api.DiveTimes {
		l.Findings = l.Findings.InSession(r.ID.String())
		l.EndFindings = l.EndFindings.InSession(r.ID.String())
		return loggedView(l)
	}
	return api.ListDives200JSONResponse{DiveLogListJSONResponse: api.DiveLogListJSONResponse{
		Headers: api.DiveLogListResponseHeaders{Link: p.link},
		Body: api.DiveLogList{NextCursor: p.cursor, Items: each(p.items, func(d waterlog.DiveLog) api.DiveLog {
			return api.DiveLog{ID: d.ID, Number: d.Number, TrainingDive: orNull(d.TrainingDive),
				Log: each(d.Log, logged)}
		})}}}, nil
}

func loggedView(l waterview.Dive) api.DiveTimes {
	return api.DiveTimes{
		TimeInID:       l.StartID,
		ParticipantID:  l.ParticipantID,
		PersonID:       l.PersonID,
		PersonName:     l.Name,
		EnrolmentID:    orNull(l.EnrolmentID),
		InAt:           l.InAt.UTC(),
		Team:           orNull(l.Team),
		CylinderSize:   optionalQuantity(l.Size),
		CylinderRating: optionalQuantity(l.Rating),
		OxygenPercent:  orNull(l.OxygenPercent),
		StartPressure:  optionalQuantity(l.StartPressure),
		TimeOutID:      orNull(l.EndID),
		OutAt:          utc(l.OutAt),
		Depth:          optionalQuantity(l.Depth),
		EndPressure:    optionalQuantity(l.EndPressure),
		Findings:       findings(slices.Concat(l.Findings, l.EndFindings)),
	}
}

// RecordTimesIn implements POST /v1/dives/{id}/times-in.
func (h trainingHandlers) RecordTimesIn(ctx context.Context,
	r api.RecordTimesInRequestObject) (api.RecordTimesInResponseObject, error) {
	out, err := h.desk.LogTimesIn(ctx, callerOf(ctx), r.ID, each(r.Body.Items, timeIn))
	return api.RecordTimesIn200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(results(out,
		nil))}, err
}

func timeIn(t api.TimeIn) waterlog.TimeIn {
	return waterlog.TimeIn{ID: t.ID, ParticipantID: t.ParticipantID, InAt: t.InAt, Team: t.Team,
		Size:   optionalReading(t.CylinderSize),
		Rating: optionalReading(t.CylinderRating), OxygenPercent: t.OxygenPercent, Start: optionalReading(t.StartPressure), WitnessedBy: t.WitnessedBy}
}

// RecordTimesOut implements POST /v1/dives/{id}/times-out.
func (h trainingHandlers) RecordTimesOut(ctx context.Context,
	r api.RecordTimesOutRequestObject) (api.RecordTimesOutResponseObject, error) {
	out, err := h.waterlog.LogTimesOut(ctx, callerOf(ctx), r.ID, each(r.Body.Items, timeOut))
	return api.RecordTimesOut200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(results(out,
		nil))}, err
}

func timeOut(t api.TimeOut) waterlog.TimeOut {
	return waterlog.TimeOut{ID: t.ID, StartID: t.TimeInID, OutAt: t.OutAt, Depth: optionalReading(t.Depth),
		End: optionalReading(t.EndPressure), WitnessedBy: t.WitnessedBy}
}

// ListGasChecks implements GET /v1/sessions/{id}/gas-checks.
func (h trainingHandlers) ListGasChecks(ctx context.Context,
	r api.ListGasChecksRequestObject) (api.ListGasChecksResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := h.waterlog.GasChecks(ctx, callerOf(ctx), r.ID, given(r.Params.ParticipantID, nil), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListGasChecks200JSONResponse{GasCheckListJSONResponse: api.GasCheckListJSONResponse{Headers: api.GasCheckListResponseHeaders{Link: link},
		Body: api.GasCheckList{Items: each(list, gasCheckView), NextCursor: orNull(cur)}}}, nil
}

func gasCheckView(g waterview.GasCheck) api.GasCheck {
	e := entryView(g.Head)
	return api.GasCheck{ID: e.ID, SessionID: e.SessionID, ParticipantID: e.ParticipantID,
		EnrolmentID: e.EnrolmentID, WitnessedBy: e.WitnessedBy,
		RecordedBy: e.RecordedBy, WitnessedAt: e.WitnessedAt, RecordedAt: e.RecordedAt, VoidedAt: e.VoidedAt,
		VoidedBy: e.VoidedBy, VoidReason: e.VoidReason,
		Findings: e.Findings, DiveID: orNull(g.DiveID), Depth: optionalQuantity(g.Depth),
		Reading:         optionalQuantity(g.Reading),
		ReadAfterSignal: g.ReadAfterSignal, Signalled: optionalQuantity(g.Signalled),
		SignalledWith: orNull(g.SignalledWith), Answered: g.Answered, Verdict: string(g.Verdict),
		Simulated: g.Simulated}
}

// RecordGasChecks implements POST /v1/sessions/{id}/gas-checks.
func (h trainingHandlers) RecordGasChecks(ctx context.Context,
	r api.RecordGasChecksRequestObject) (api.RecordGasChecksResponseObject, error) {
	out, err := h.waterlog.LogGasChecks(ctx, callerOf(ctx), r.ID, each(r.Body.Items, gasCheck))
	return api.RecordGasChecks200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, nil))}, err
}

func gasCheck(c api.GasCheckAdd) waterlog.GasCheck {
	return waterlog.GasCheck{ID: c.ID, ParticipantID: c.ParticipantID, DiveID: c.DiveID,
		Depth: optionalReading(c.Depth), Reading: optionalReading(c.Reading),
		ReadAfterSignal: given(c.ReadAfterSignal, false), Signalled: optionalReading(c.Signalled),
		SignalledWith: waterlog.SignalledWith(given(c.SignalledWith, "")), NoAnswer: given(c.NoAnswer, false),
		Simulated:   given(c.Simulated, false),
		WitnessedBy: c.WitnessedBy, WitnessedAt: c.WitnessedAt}
}

// ListDrillAttempts implements GET /v1/sessions/{id}/drill-attempts.
func (h trainingHandlers) ListDrillAttempts(ctx context.Context,
	r api.ListDrillAttemptsRequestObject) (api.ListDrillAttemptsResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := h.waterlog.Attempts(ctx, callerOf(ctx), r.ID, given(r.Params.ParticipantID, nil), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListDrillAttempts200JSONResponse{DrillAttemptListJSONResponse: api.DrillAttemptListJSONResponse{Headers: api.DrillAttemptListResponseHeaders{Link: link},
		Body: api.DrillAttemptList{Items: each(list, attemptView), NextCursor: orNull(cur)}}}, nil
}

// count is how the contract spells a plain number's unit.
const count = "count"

func attemptView(a waterview.Attempt) api.DrillAttempt {
	e := entryView(a.Head)
	names := make([]string, 0, len(a.Measures))
	for name := range a.Measures {
		names = append(names, name)
	}
	slices.Sort(names)
	return api.DrillAttempt{ID: e.ID, SessionID: e.SessionID, ParticipantID: e.ParticipantID,
		EnrolmentID: e.EnrolmentID, WitnessedBy: e.WitnessedBy,
		RecordedBy: e.RecordedBy, WitnessedAt: e.WitnessedAt, RecordedAt: e.RecordedAt, VoidedAt: e.VoidedAt,
		VoidedBy: e.VoidedBy, VoidReason: e.VoidReason,
		Findings: e.Findings, DiveID: orNull(a.DiveID), Skill: a.Skill, Role: orNull(a.Role),
		Claimed: a.Claimed, Met: a.Met, Reason: orNull(a.Reason),
		Measures: each(names, func(name string) api.AttemptMeasure {
			q := a.Measures[name]
			unit := string(q.Unit)
			if unit == "" {
				unit = count
			}
			return api.AttemptMeasure{Name: name, Value: q.Value.Float(), Unit: unit}
		})}
}

// RecordDrillAttempts implements POST /v1/sessions/{id}/drill-attempts.
func (h trainingHandlers) RecordDrillAttempts(ctx context.Context,
	r api.RecordDrillAttemptsRequestObject) (api.RecordDrillAttemptsResponseObject, error) {
	out, err := h.waterlog.LogAttempts(ctx, callerOf(ctx), r.ID, each(r.Body.Items, attempt))
	return api.RecordDrillAttempts200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, nil))}, err
}

func attempt(a api.DrillAttemptAdd) waterlog.Attempt {
	return waterlog.Attempt{ID: a.ID, ParticipantID: a.ParticipantID, DiveID: a.DiveID, Skill: a.Skill,
		Role: a.Role, Met: a.Met, Reason: a.Reason,
		WitnessedBy: a.WitnessedBy, WitnessedAt: a.WitnessedAt, Measures: each(given(a.Measures, nil), measure)}
}

func measure(m api.AttemptMeasure) waterlog.Measured {
	unit := units.Unit(m.Unit)
	if m.Unit == count {
		unit = ""
	}
	return waterlog.Measured{Name: m.Name, Value: units.DecimalOf(m.Value), Unit: unit}
}

// ListTheoryResults implements GET /v1/enrolments/{id}/theory-results.
func (h trainingHandlers) ListTheoryResults(ctx context.Context,
	r api.ListTheoryResultsRequestObject) (api.ListTheoryResultsResponseObject, error) {
	list, err := h.assessment.Results(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x assessment.TheoryResult) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListTheoryResults200JSONResponse{TheoryResultListJSONResponse: api.TheoryResultListJSONResponse{
		Headers: api.TheoryResultListResponseHeaders{Link: p.link},
		Body:    api.TheoryResultList{Items: each(p.items, theoryView), NextCursor: p.cursor},
	}}, nil
}

// RecordTheoryResult implements POST /v1/enrolments/{id}/theory-results.
func (h trainingHandlers) RecordTheoryResult(ctx context.Context,
	r api.RecordTheoryResultRequestObject) (api.RecordTheoryResultResponseObject, error) {
	b := r.Body
	key := creation(ctx, b.ID)
	out, created, err := h.assessment.LogResult(ctx, callerOf(ctx),
		assessment.NewTheoryResult{ID: key.ID, Digest: key.Digest, EnrolmentID: r.ID, SessionID: b.SessionID, Part: b.Part,
			Percent: b.Percent, WitnessedBy: b.WitnessedBy, WitnessedAt: b.WitnessedAt})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordTheoryResult200JSONResponse{TheoryResultJSONResponse: api.TheoryResultJSONResponse(theoryView(out))}, nil
	}
	return api.RecordTheoryResult201JSONResponse{Body: theoryView(out),
		Headers: api.RecordTheoryResult201ResponseHeaders{Location: "/v1/entries/" + out.ID.String()}}, nil
}

func theoryView(t assessment.TheoryResult) api.TheoryResult {
	e := entryView(t.Head)
	return api.TheoryResult{ID: e.ID, SessionID: e.SessionID, ParticipantID: e.ParticipantID,
		EnrolmentID: e.EnrolmentID, WitnessedBy: e.WitnessedBy,
		RecordedBy: e.RecordedBy, WitnessedAt: e.WitnessedAt, RecordedAt: e.RecordedAt, VoidedAt: e.VoidedAt,
		VoidedBy: e.VoidedBy, VoidReason: e.VoidReason,
		Findings: e.Findings, Part: t.Part, Percent: t.Percent, PassMark: t.PassMark, Passed: t.Passed()}
}

// ListCredits implements GET /v1/enrolments/{id}/credits.
func (h trainingHandlers) ListCredits(ctx context.Context,
	r api.ListCreditsRequestObject) (api.ListCreditsResponseObject, error) {
	list, err := h.assessment.Credits(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x assessment.Credit) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListCredits200JSONResponse{CreditListJSONResponse: api.CreditListJSONResponse{
		Headers: api.CreditListResponseHeaders{Link: p.link},
		Body:    api.CreditList{Items: each(p.items, creditView), NextCursor: p.cursor},
	}}, nil
}

// RecordCredit implements POST /v1/enrolments/{id}/credits.
func (h trainingHandlers) RecordCredit(ctx context.Context,
	r api.RecordCreditRequestObject) (api.RecordCreditResponseObject, error) {
	b := r.Body
	c, created, err := h.assessment.AcceptCredit(ctx, callerOf(ctx),
		assessment.NewCredit{Key: creation(ctx, b.ID), EnrolmentID: r.ID, What: b.What, Code: b.Code,
			TrainingDive: b.TrainingDive, Minutes: b.Minutes, DoneAtCentre: b.DoneAtCentre, DoneBy: b.DoneBy, DoneOn: b.DoneOn.Time, Document: b.Document})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordCredit200JSONResponse{CreditJSONResponse: api.CreditJSONResponse(creditView(c))}, nil
	}
	return api.RecordCredit201JSONResponse{Body: creditView(c),
		Headers: api.RecordCredit201ResponseHeaders{Location: "/v1/enrolments/" + c.EnrolmentID.String() +
			"/credits"}}, nil
}

// VoidCredit implements POST /v1/credits/{id}/void.
func (h trainingHandlers) VoidCredit(ctx context.Context,
	r api.VoidCreditRequestObject) (api.VoidCreditResponseObject, error) {
	c, err := h.assessment.VoidCredit(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.VoidCredit200JSONResponse{CreditJSONResponse: api.CreditJSONResponse(creditView(c))}, err
}

func creditView(c assessment.Credit) api.Credit {
	return api.Credit{ID: c.ID, EnrolmentID: c.EnrolmentID, What: c.What, Code: orNull(c.Code),
		TrainingDive: orNull(c.TrainingDive), Minutes: orNull(c.Minutes),
		DoneAtCentre: c.DoneAtCentre, DoneBy: c.DoneBy, DoneOn: date(c.DoneOn), Document: c.Document,
		AcceptedBy: c.AcceptedBy, AcceptedAt: c.AcceptedAt.UTC(),
		VoidedAt: utc(c.VoidedAt), VoidedBy: orNull(c.VoidedBy), VoidReason: orNull(c.VoidReason)}
}
