package httpapi

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/gaswatch"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

// gasWatchHandlers serves the gas watch.
type gasWatchHandlers struct {
	gaswatch *gaswatch.Service
	waterlog *waterlog.Service
}

// WatchGas implements GET /v1/sessions/{id}/watch.
func (h gasWatchHandlers) WatchGas(ctx context.Context,
	r api.WatchGasRequestObject) (api.WatchGasResponseObject, error) {
	list, now, err := h.gaswatch.Watch(ctx, callerOf(ctx), []uuid.UUID{r.ID})
	return api.WatchGas200JSONResponse{GasWatchJSONResponse: api.GasWatchJSONResponse{SessionID: r.ID,
		AsOf: now.UTC(), Items: each(list, watchedView)}}, err
}

// watchedView is also what the live view sends of one participant.
func watchedView(w gaswatch.Status) api.WatchedDiver {
	return api.WatchedDiver{
		ParticipantID:   w.ParticipantID,
		PersonID:        w.PersonID,
		PersonName:      w.Name,
		GroupID:         orNull(w.GroupID),
		Role:            w.Role,
		GaugeUnit:       string(w.GaugeUnit),
		DiveID:          orNull(w.DiveID),
		InAt:            utc(w.InAt),
		OutAt:           utc(w.OutAt),
		Last:            lookView(w.Last, w.Age),
		Simulated:       lookView(w.Simulated, w.SimulatedAge),
		TurnPressure:    optionalQuantity(w.Marks.Turn),
		TurnSetBy:       unlessEmpty(string(w.Marks.TurnBy)),
		LowGasPressure:  optionalQuantity(w.Marks.LowGas),
		LowGasSetBy:     unlessEmpty(string(w.Marks.LowGasBy)),
		CheckEvery:      everyView(w.CheckEvery),
		DueAt:           utc(w.DueAt),
		Reached:         each(w.Reached, reachedView),
		PendingResponse: unlessEmpty(string(w.Pending())),
		Trend:           trendView(w.Trend),
		NoTrend:         unlessEmpty(w.NoTrend),
		Findings:        findingsIn(w.SessionID, w.Findings()),
	}
}

// seconds writes how long something took or has lasted.
func seconds(d time.Duration) api.Quantity {
	return quantity(units.Read(d.Seconds(), units.UnitSecond))
}

// everyView writes an agreed interval, null for none.
func everyView(d time.Duration) nullable.Nullable[api.Quantity] {
	if d == 0 {
		return nullable.NewNullNullable[api.Quantity]()
	}
	return nullable.NewNullableWithValue(seconds(d))
}

func lookView(c *waterview.GasCheck, age time.Duration) nullable.Nullable[api.LastLook] {
	if c == nil {
		return nullable.NewNullNullable[api.LastLook]()
	}
	return nullable.NewNullableWithValue(api.LastLook{CheckID: c.ID, WitnessedAt: c.WitnessedAt.UTC(),
		Age: seconds(age), Depth: optionalQuantity(c.Depth),
		Reading: optionalQuantity(c.Reading), Signalled: optionalQuantity(c.Signalled), Verdict: string(c.Verdict)})
}

func reachedView(r signal.Reached) api.MarkReached {
	from := "reading"
	if r.Reported {
		from = "report"
	}
	return api.MarkReached{Mark: string(r.Mark), Limit: quantity(r.Limit), SetBy: string(r.SetBy),
		CheckID: uuid.MustParse(r.Look.ID), At: r.Look.At.UTC(), Found: quantity(r.Found), From: from,
		Expected: each(r.Expected, expectedView)}
}

func expectedView(e signal.Expected) api.ExpectedResponse {
	v := api.ExpectedResponse{What: string(e.What), State: string(e.State), After: seconds(e.After),
		EndedAt: nullable.NewNullNullable[time.Time](), EndedBy: nullable.NewNullNullable[uuid.UUID]()}
	if e.Ended != nil {
		v.EndedAt = utc(&e.Ended.At)
	}
	if e.Ended != nil && e.Ended.ID != "" { // the end of a session is no entry
		v.EndedBy.Set(uuid.MustParse(e.Ended.ID))
	}
	return v
}

func trendView(t *gaswatch.Trend) nullable.Nullable[api.GasTrend] {
	if t == nil {
		return nullable.NewNullNullable[api.GasTrend]()
	}
	return nullable.NewNullableWithValue(api.GasTrend{LowGasAt: t.LowGasAt.UTC(),
		EarliestAt: t.EarliestAt.UTC(), LatestAt: t.LatestAt.UTC(),
		FallsInAMinute: quantity(t.PerMinute), Readings: t.Readings, LeftOut: append([]uuid.UUID{},
			t.LeftOut...), Depth: string(t.Depths)})
}

// RecordResponses implements POST /v1/sessions/{id}/responses.
func (h gasWatchHandlers) RecordResponses(ctx context.Context,
	r api.RecordResponsesRequestObject) (api.RecordResponsesResponseObject, error) {
	out, err := h.waterlog.LogResponses(ctx, callerOf(ctx), r.ID, each(r.Body.Items, gasResponse))
	return api.RecordResponses200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, nil))}, err
}

func gasResponse(g api.GasResponseAdd) waterlog.Response {
	return waterlog.Response{ID: g.ID, ParticipantID: g.ParticipantID, DiveID: g.DiveID,
		What: signal.Response(g.What), Note: g.Note,
		WitnessedBy: g.WitnessedBy, WitnessedAt: g.WitnessedAt}
}

// RecordLogCompletion implements POST /v1/sessions/{id}/log-completions.
func (h gasWatchHandlers) RecordLogCompletion(ctx context.Context,
	r api.RecordLogCompletionRequestObject) (api.RecordLogCompletionResponseObject, error) {
	out, err := h.waterlog.CompleteLog(ctx, callerOf(ctx), r.ID, each(r.Body.Items, logCompletion))
	return api.RecordLogCompletion200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, nil))}, err
}

func logCompletion(c api.LogCompletionAdd) waterlog.LogCompletion {
	return waterlog.LogCompletion{ID: c.ID, DiveID: c.DiveID, WitnessedBy: c.WitnessedBy,
		WitnessedAt: c.WitnessedAt}
}

// GetGasLog implements GET /v1/sessions/{id}/gas-log.
func (h gasWatchHandlers) GetGasLog(ctx context.Context,
	r api.GetGasLogRequestObject) (api.GetGasLogResponseObject, error) {
	l, err := h.gaswatch.Log(ctx, callerOf(ctx), r.ID)
	return api.GetGasLog200JSONResponse{GasLogJSONResponse: api.GasLogJSONResponse{Body: api.GasLog{
		SessionID:   l.SessionID,
		LogComplete: l.LogComplete,
		Completions: each(l.Completions, func(c waterview.LogCompletion) api.LogCompletion {
			return api.LogCompletion{ID: c.ID, DiveID: orNull(c.DiveID),
				WitnessedBy: c.WitnessedBy, RecordedBy: orNull(c.RecordedBy), WitnessedAt: c.WitnessedAt.UTC(), RecordedAt: c.RecordedAt.UTC()}
		}),
		Items: each(l.Divers, func(d gaswatch.DiverLog) api.DiverGasLog {
			return api.DiverGasLog{ParticipantID: d.ParticipantID, PersonID: d.PersonID, PersonName: d.Name,
				GroupID: orNull(d.GroupID), Role: d.Role,
				Verdicts: each(d.Verdicts, verdictCount),
				Dives: each(d.Dives,
					func(d gaswatch.DiveGas) api.DiveGasLog { return diveGasView(l.SessionID, d) }),
				OtherChecks: each(d.Surface, gasCheckView)}
		})}}}, err
}

func verdictCount(c waterview.CheckCount) api.VerdictCount {
	return api.VerdictCount{Verdict: c.Verdict, Count: c.Count}
}

func diveGasView(session uuid.UUID, d gaswatch.DiveGas) api.DiveGasLog {
	return api.DiveGasLog{
		DiveID:         orNull(d.DiveID),
		InAt:           utc(d.InAt),
		OutAt:          utc(d.OutAt),
		LogComplete:    d.LogComplete,
		TurnPressure:   optionalQuantity(d.Marks.Turn),
		TurnSetBy:      unlessEmpty(string(d.Marks.TurnBy)),
		LowGasPressure: optionalQuantity(d.Marks.LowGas),
		LowGasSetBy:    unlessEmpty(string(d.Marks.LowGasBy)),
		CheckEvery:     everyView(d.CheckEvery),
		Checks:         each(d.Checks, gasCheckView),
		Reached:        each(d.Reached, reachedView),
		Responses:      each(d.Responses, responseView),
		Gaps: each(d.Gaps, func(g signal.Gap) api.GasGap {
			return api.GasGap{FromAt: g.From.UTC(), FromEntry: uuid.MustParse(g.FromID), ToAt: g.To.UTC(),
				ToEntry: uuid.MustParse(g.ToID), Length: seconds(g.To.Sub(g.From))}
		}),
		Findings: findingsIn(session, d.Findings()),
	}
}

func responseView(r waterview.Response) api.GasResponse {
	return api.GasResponse{ID: r.ID, ParticipantID: *r.ParticipantID, DiveID: orNull(r.DiveID),
		What: string(r.What), Note: orNull(r.Note),
		WitnessedBy: r.WitnessedBy, RecordedBy: orNull(r.RecordedBy), WitnessedAt: r.WitnessedAt.UTC(),
		RecordedAt: r.RecordedAt.UTC(),
		Findings:   findingsIn(*r.SessionID, r.Findings)}
}

// GetGasHistory implements GET /v1/people/{id}/gas-history.
func (h gasWatchHandlers) GetGasHistory(ctx context.Context,
	r api.GetGasHistoryRequestObject) (api.GetGasHistoryResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, true)
	if err != nil {
		return nil, err
	}
	list, after, err := h.gaswatch.History(ctx, callerOf(ctx), r.ID, p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.GetGasHistory200JSONResponse{GasHistoryJSONResponse: api.GasHistoryJSONResponse{Headers: api.GasHistoryResponseHeaders{Link: link},
		Body: api.GasHistory{NextCursor: orNull(cur),
			Items: each(list, func(h gaswatch.PastDives) api.SessionGasHistory {
				return api.SessionGasHistory{SessionID: h.SessionID, CourseID: h.CourseID, Title: h.Title,
					Kind: h.Kind, HeldOn: date(h.OnDay), StartsAt: h.StartsAt.UTC(),
					Verdicts: each(h.Verdicts, verdictCount), Checks: each(h.Checks,
						gasCheckView), Dives: each(h.Dives, loggedView)}
			})}}}, nil
}
