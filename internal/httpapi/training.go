package httpapi

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/training"
	"tankside/internal/units"
)

// ListDives implements GET /v1/sessions/{id}/dives.
func (s *server) ListDives(ctx context.Context, r api.ListDivesRequestObject) (api.ListDivesResponseObject,
	error) {
	list, err := s.Training.Dives(ctx, callerOf(ctx), r.ID)
	logged := func(l training.LoggedDive) api.DiveLogged {
		l.Findings = l.Findings.InSession(r.ID.String())
		l.EndFindings = l.EndFindings.InSession(r.ID.String())
		return loggedView(l)
	}
	return api.ListDives200JSONResponse{DiveLogListJSONResponse: api.DiveLogListJSONResponse{
		Body: api.DiveLogList{Items: each(list, func(d training.DiveLog) api.DiveLog {
			return api.DiveLog{ID: d.ID, Number: d.Number, TrainingDive: orNull(d.TrainingDive),
				Log: each(d.Log, logged)}
		})}}}, err
}

func loggedView(l training.LoggedDive) api.DiveLogged {
	return api.DiveLogged{
		StartID:        l.StartID,
		ParticipantID:  l.ParticipantID,
		PersonID:       l.PersonID,
		PersonName:     l.Name,
		EnrolmentID:    orNull(l.EnrolmentID),
		InAt:           l.InAt.UTC(),
		Team:           orNull(l.Team),
		CylinderSize:   optionalQuantity(l.Size()),
		CylinderRating: optionalQuantity(l.Rating()),
		OxygenPercent:  orNull(l.OxygenPercent),
		StartPressure:  optionalQuantity(l.Start()),
		EndID:          orNull(l.EndID),
		OutAt:          utc(l.OutAt),
		Depth:          optionalQuantity(l.Depth()),
		EndPressure:    optionalQuantity(l.End()),
		Findings:       findings(slices.Concat(l.Findings, l.EndFindings)),
	}
}

// RecordTimesIn implements POST /v1/dives/{id}/starts.
func (s *server) RecordTimesIn(ctx context.Context,
	r api.RecordTimesInRequestObject) (api.RecordTimesInResponseObject, error) {
	out, err := s.Desk.LogTimesIn(ctx, callerOf(ctx), r.ID, each(r.Body.Items, timeIn))
	return api.RecordTimesIn200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(results(out,
		nil))}, err
}

func timeIn(t api.TimeIn) training.TimeIn {
	return training.TimeIn{ID: t.ID, ParticipantID: t.ParticipantID, InAt: t.InAt, Team: t.Team,
		Size:   optionalReading(t.CylinderSize),
		Rating: optionalReading(t.CylinderRating), OxygenPercent: t.OxygenPercent, Start: optionalReading(t.StartPressure), WitnessedBy: t.WitnessedBy}
}

// RecordTimesOut implements POST /v1/dives/{id}/ends.
func (s *server) RecordTimesOut(ctx context.Context,
	r api.RecordTimesOutRequestObject) (api.RecordTimesOutResponseObject, error) {
	out, err := s.Training.LogTimesOut(ctx, callerOf(ctx), r.ID, each(r.Body.Items, timeOut))
	return api.RecordTimesOut200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(results(out,
		nil))}, err
}

func timeOut(t api.TimeOut) training.TimeOut {
	return training.TimeOut{ID: t.ID, StartID: t.StartID, OutAt: t.OutAt, Depth: optionalReading(t.Depth),
		End: optionalReading(t.EndPressure), WitnessedBy: t.WitnessedBy}
}

// ListGasChecks implements GET /v1/sessions/{id}/gas-checks.
func (s *server) ListGasChecks(ctx context.Context,
	r api.ListGasChecksRequestObject) (api.ListGasChecksResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := s.Training.GasChecks(ctx, callerOf(ctx), r.ID, given(r.Params.ParticipantID, nil), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListGasChecks200JSONResponse{GasCheckListJSONResponse: api.GasCheckListJSONResponse{Headers: api.GasCheckListResponseHeaders{Link: link},
		Body: api.GasCheckList{Items: each(list, gasCheckView), NextCursor: orNull(cur)}}}, nil
}

func gasCheckView(g training.GasCheckLogged) api.GasCheck {
	e := entryView(g.Head)
	return api.GasCheck{ID: e.ID, SessionID: e.SessionID, ParticipantID: e.ParticipantID,
		EnrolmentID: e.EnrolmentID, WitnessedBy: e.WitnessedBy,
		RecordedBy: e.RecordedBy, WitnessedAt: e.WitnessedAt, RecordedAt: e.RecordedAt, VoidedAt: e.VoidedAt,
		VoidedBy: e.VoidedBy, VoidReason: e.VoidReason,
		Findings: e.Findings, DiveID: orNull(g.DiveID), Depth: optionalQuantity(g.Depth()),
		Reading:         optionalQuantity(g.Reading()),
		ReadAfterSignal: g.ReadAfterSignal, Signalled: optionalQuantity(g.Signalled()),
		SignalledWith: orNull(g.SignalledWith), Answered: g.Answered, Verdict: string(g.Verdict),
		Simulated: g.Simulated}
}

// RecordGasChecks implements POST /v1/sessions/{id}/gas-checks.
func (s *server) RecordGasChecks(ctx context.Context,
	r api.RecordGasChecksRequestObject) (api.RecordGasChecksResponseObject, error) {
	out, err := s.Training.LogGasChecks(ctx, callerOf(ctx), r.ID, each(r.Body.Items, gasCheck))
	return api.RecordGasChecks200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, nil))}, err
}

func gasCheck(c api.GasCheckAdd) training.GasCheck {
	return training.GasCheck{ID: c.ID, ParticipantID: c.ParticipantID, DiveID: c.DiveID,
		Depth: optionalReading(c.Depth), Reading: optionalReading(c.Reading),
		ReadAfterSignal: given(c.ReadAfterSignal, false), Signalled: optionalReading(c.Signalled),
		SignalledWith: training.SignalledWith(given(c.SignalledWith, "")), NoAnswer: given(c.NoAnswer, false),
		Simulated:   given(c.Simulated, false),
		WitnessedBy: c.WitnessedBy, WitnessedAt: c.WitnessedAt}
}

// ListDrillAttempts implements GET /v1/sessions/{id}/drill-attempts.
func (s *server) ListDrillAttempts(ctx context.Context,
	r api.ListDrillAttemptsRequestObject) (api.ListDrillAttemptsResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := s.Training.Attempts(ctx, callerOf(ctx), r.ID, given(r.Params.ParticipantID, nil), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListDrillAttempts200JSONResponse{DrillAttemptListJSONResponse: api.DrillAttemptListJSONResponse{Headers: api.DrillAttemptListResponseHeaders{Link: link},
		Body: api.DrillAttemptList{Items: each(list, attemptView), NextCursor: orNull(cur)}}}, nil
}

// count is how the contract spells a plain number's unit.
const count = "count"

func attemptView(a training.AttemptLogged) api.DrillAttempt {
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
func (s *server) RecordDrillAttempts(ctx context.Context,
	r api.RecordDrillAttemptsRequestObject) (api.RecordDrillAttemptsResponseObject, error) {
	out, err := s.Training.LogAttempts(ctx, callerOf(ctx), r.ID, each(r.Body.Items, attempt))
	return api.RecordDrillAttempts200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, nil))}, err
}

func attempt(a api.DrillAttemptAdd) training.Attempt {
	return training.Attempt{ID: a.ID, ParticipantID: a.ParticipantID, DiveID: a.DiveID, Skill: a.Skill,
		Role: a.Role, Met: a.Met, Reason: a.Reason,
		WitnessedBy: a.WitnessedBy, WitnessedAt: a.WitnessedAt, Measures: each(given(a.Measures, nil), measure)}
}

func measure(m api.AttemptMeasure) training.Measured {
	unit := units.Unit(m.Unit)
	if m.Unit == count {
		unit = ""
	}
	return training.Measured{Name: m.Name, Value: units.DecimalOf(m.Value), Unit: unit}
}

// ListTheoryResults implements GET /v1/enrolments/{id}/theory-results.
func (s *server) ListTheoryResults(ctx context.Context,
	r api.ListTheoryResultsRequestObject) (api.ListTheoryResultsResponseObject, error) {
	list, err := s.Training.Results(ctx, callerOf(ctx), r.ID)
	return api.ListTheoryResults200JSONResponse{TheoryResultListJSONResponse: api.TheoryResultListJSONResponse{
		Body: api.TheoryResultList{Items: each(list, theoryView)}}}, err
}

// RecordTheoryResult implements POST /v1/enrolments/{id}/theory-results.
func (s *server) RecordTheoryResult(ctx context.Context,
	r api.RecordTheoryResultRequestObject) (api.RecordTheoryResultResponseObject, error) {
	b := r.Body
	key := creation(ctx, b.ID)
	out, created, err := s.Training.LogResult(ctx, callerOf(ctx),
		training.Result{ID: key.ID, Digest: key.Digest, EnrolmentID: r.ID, SessionID: b.SessionID, Part: b.Part,
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

func theoryView(t training.ResultLogged) api.TheoryResult {
	e := entryView(t.Head)
	return api.TheoryResult{ID: e.ID, SessionID: e.SessionID, ParticipantID: e.ParticipantID,
		EnrolmentID: e.EnrolmentID, WitnessedBy: e.WitnessedBy,
		RecordedBy: e.RecordedBy, WitnessedAt: e.WitnessedAt, RecordedAt: e.RecordedAt, VoidedAt: e.VoidedAt,
		VoidedBy: e.VoidedBy, VoidReason: e.VoidReason,
		Findings: e.Findings, Part: t.Part, Percent: t.Percent, PassMark: t.PassMark, Passed: t.Passed()}
}

// ListCredits implements GET /v1/enrolments/{id}/credits.
func (s *server) ListCredits(ctx context.Context,
	r api.ListCreditsRequestObject) (api.ListCreditsResponseObject, error) {
	list, err := s.Training.Credits(ctx, callerOf(ctx), r.ID)
	return api.ListCredits200JSONResponse{CreditListJSONResponse: api.CreditListJSONResponse{Body: api.CreditList{Items: each(list, creditView)}}}, err
}

// RecordCredit implements POST /v1/enrolments/{id}/credits.
func (s *server) RecordCredit(ctx context.Context,
	r api.RecordCreditRequestObject) (api.RecordCreditResponseObject, error) {
	b := r.Body
	c, created, err := s.Training.AcceptCredit(ctx, callerOf(ctx),
		training.NewCredit{Key: creation(ctx, b.ID), EnrolmentID: r.ID, What: b.What, Code: b.Code,
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
func (s *server) VoidCredit(ctx context.Context, r api.VoidCreditRequestObject) (api.VoidCreditResponseObject,
	error) {
	c, err := s.Training.VoidCredit(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.VoidCredit200JSONResponse{CreditJSONResponse: api.CreditJSONResponse(creditView(c))}, err
}

func creditView(c training.Credit) api.Credit {
	return api.Credit{ID: c.ID, EnrolmentID: c.EnrolmentID, What: c.What, Code: orNull(c.Code),
		TrainingDive: orNull(c.TrainingDive), Minutes: orNull(c.Minutes),
		DoneAtCentre: c.DoneAtCentre, DoneBy: c.DoneBy, DoneOn: date(c.DoneOn), Document: c.Document,
		AcceptedBy: c.AcceptedBy, AcceptedAt: c.AcceptedAt.UTC(),
		VoidedAt: utc(c.VoidedAt), VoidedBy: orNull(c.VoidedBy), VoidReason: orNull(c.VoidReason)}
}

// CreateSignOffs implements POST /v1/sessions/{id}/sign-offs.
func (s *server) CreateSignOffs(ctx context.Context,
	r api.CreateSignOffsRequestObject) (api.CreateSignOffsResponseObject, error) {
	var out []journal.Result
	err := s.Offline.AtGate(ctx, callerOf(ctx), r.ID, func(ctx context.Context) (err error) {
		out, err = s.Training.SignOff(ctx, callerOf(ctx), r.ID, each(r.Body.Items, signing))
		return err
	})
	if err != nil {
		return nil, err
	}
	if given(r.Params.DryRun, false) {
		if err := refusalsOf(out); err != nil {
			return nil, err
		}
	}
	return api.CreateSignOffs200JSONResponse{SignOffResultsJSONResponse: api.SignOffResultsJSONResponse{Body: resultsIn(r.ID, out, nil)}}, nil
}

func signing(w api.SignOffAdd) training.Signing {
	return training.Signing{ID: w.ID, EnrolmentID: w.EnrolmentID, Skill: w.Skill, DiveID: w.DiveID,
		Evidence: given(w.Evidence, nil), Accept: acceptances(w.Accept)}
}

// refusalsOf makes one refusal of those of all items, for a dry run: it is
// allowed only if every sign-off would stand.
func refusalsOf(out []journal.Result) error {
	var found finding.List
	for _, o := range out {
		if o.Refusal != nil && len(o.Refusal.Findings) == 0 {
			return o.Refusal
		}
		if o.Refusal != nil {
			found = append(found, o.Refusal.Findings...)
		}
	}
	if len(found) == 0 {
		return nil
	}
	return fault.RefusedBy(found)
}

// ListSessionSignOffs implements GET /v1/sessions/{id}/sign-offs.
func (s *server) ListSessionSignOffs(ctx context.Context,
	r api.ListSessionSignOffsRequestObject) (api.ListSessionSignOffsResponseObject, error) {
	list, err := s.Training.SessionSignOffs(ctx, callerOf(ctx), r.ID)
	return api.ListSessionSignOffs200JSONResponse{SignOffListJSONResponse: signOffList(list)}, err
}

// ListSignOffs implements GET /v1/enrolments/{id}/sign-offs.
func (s *server) ListSignOffs(ctx context.Context,
	r api.ListSignOffsRequestObject) (api.ListSignOffsResponseObject, error) {
	list, err := s.Training.SignOffs(ctx, callerOf(ctx), r.ID)
	return api.ListSignOffs200JSONResponse{SignOffListJSONResponse: signOffList(list)}, err
}

func signOffList(list []training.SignedOff) api.SignOffListJSONResponse {
	return api.SignOffListJSONResponse{Body: api.SignOffList{Items: each(list,
		func(o training.SignedOff) api.SignOff { return signOffView(o, nil) })}}
}

// GetSignOff implements GET /v1/sign-offs/{id}.
func (s *server) GetSignOff(ctx context.Context, r api.GetSignOffRequestObject) (api.GetSignOffResponseObject,
	error) {
	o, err := s.Training.SignOffOf(ctx, callerOf(ctx), r.ID)
	return api.GetSignOff200JSONResponse{SignOffJSONResponse: api.SignOffJSONResponse(signOffView(o, nil))}, err
}

// VoidSignOff implements POST /v1/sign-offs/{id}/void.
func (s *server) VoidSignOff(ctx context.Context,
	r api.VoidSignOffRequestObject) (api.VoidSignOffResponseObject, error) {
	o, found, err := s.Training.VoidSignOff(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.VoidSignOff200JSONResponse{SignOffDecidedJSONResponse: api.SignOffDecidedJSONResponse{Body: signOffView(o, found)}}, err
}

// signOffView writes a sign-off with what was found when it was made, or now.
func signOffView(o training.SignedOff, found finding.List) api.SignOff {
	if found == nil {
		found = o.Findings
	}
	return api.SignOff{ID: o.ID, EnrolmentID: o.EnrolmentID, PersonID: o.PersonID, Skill: o.Skill,
		Round: o.Round, SessionID: o.SessionID, SignedBy: o.SignedBy,
		SignedByName: o.SignedName, WitnessedOn: date(o.WitnessedOn), SignedAt: o.SignedAt.UTC(),
		RecordedAt: o.RecordedAt.UTC(), Supports: orNull(o.Supports),
		Evidence: append([]uuid.UUID{}, o.Evidence...), RestsOn: append([]uuid.UUID{}, o.RestsOn...),
		VoidedAt: utc(o.VoidedAt), VoidedBy: orNull(o.VoidedBy), VoidReason: orNull(o.VoidReason), Findings: findings(found)}
}

// CreateCompletion implements POST /v1/enrolments/{id}/completions.
func (s *server) CreateCompletion(ctx context.Context,
	r api.CreateCompletionRequestObject) (api.CreateCompletionResponseObject, error) {
	body := given(r.Body, api.CompletionAdd{})
	var c training.Completion
	var found finding.List
	var created bool
	key := creation(ctx, body.ID)
	err := s.Offline.AtCompletion(ctx, callerOf(ctx), r.ID, func(ctx context.Context) (err error) {
		c, found, created, err = s.Desk.Complete(ctx, callerOf(ctx), r.ID, key, acceptances(body.Accept))
		return err
	})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateCompletion200JSONResponse{CompletionDecidedJSONResponse: api.CompletionDecidedJSONResponse{Body: completionView(c, found)}}, nil
	}
	return api.CreateCompletion201JSONResponse{Body: completionView(c, found),
		Headers: api.CreateCompletion201ResponseHeaders{Location: "/v1/enrolments/" + c.EnrolmentID.String() +
			"/completions"}}, nil
}

// ListCompletions implements GET /v1/enrolments/{id}/completions.
func (s *server) ListCompletions(ctx context.Context,
	r api.ListCompletionsRequestObject) (api.ListCompletionsResponseObject, error) {
	list, err := s.Training.Completions(ctx, callerOf(ctx), r.ID)
	return api.ListCompletions200JSONResponse{CompletionListJSONResponse: api.CompletionListJSONResponse{Body: api.CompletionList{Items: each(list, func(c training.Completion) api.Completion { return completionView(c, nil) })}}}, err
}

// VoidCompletion implements POST /v1/completions/{id}/void.
func (s *server) VoidCompletion(ctx context.Context,
	r api.VoidCompletionRequestObject) (api.VoidCompletionResponseObject, error) {
	c, err := s.Desk.VoidCompletion(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.VoidCompletion200JSONResponse{CompletionJSONResponse: api.CompletionJSONResponse(completionView(c, nil))}, err
}

func completionView(c training.Completion, found finding.List) api.Completion {
	if found == nil {
		found = c.Findings
	}
	return api.Completion{ID: c.ID, EnrolmentID: c.EnrolmentID, Round: c.Round, SignedBy: c.SignedBy,
		SignedByName: c.SignedName, SignedAt: c.SignedAt.UTC(),
		RestsOn: append([]uuid.UUID{},
			c.RestsOn...), VoidedAt: utc(c.VoidedAt), VoidedBy: orNull(c.VoidedBy), VoidReason: orNull(c.VoidReason), Findings: findings(found)}
}
