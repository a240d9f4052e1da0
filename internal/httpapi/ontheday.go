package httpapi

import (
	"context"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/desk"
	"tankside/internal/once"
	"tankside/internal/roster"
	"tankside/internal/sessions"
)

// onTheDayHandlers serves roll calls, outings, head counts and incidents.
type onTheDayHandlers struct {
	desk     *desk.Service
	sessions *sessions.Service
}

// RecordRollCalls implements POST /v1/sessions/{id}/roll-calls.
func (h onTheDayHandlers) RecordRollCalls(ctx context.Context,
	r api.RecordRollCallsRequestObject) (api.RecordRollCallsResponseObject, error) {
	out, found, err := h.sessions.CallRoll(ctx, callerOf(ctx), r.ID, each(r.Body.Items, rollCall))
	return api.RecordRollCalls200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(resultsIn(r.ID, out, found))}, err
}

func rollCall(c api.RollCall) sessions.NewRollCallEntry {
	out := sessions.NewRollCallEntry{ID: c.ID, ParticipantID: c.ParticipantID, Aboard: c.Aboard,
		Attendance: sessions.Attendance(c.Attendance), WitnessedBy: c.WitnessedBy,
		WitnessedAt: c.WitnessedAt, Note: c.Note}
	if u := c.Unexpected; u != nil {
		out.Unexpected = &sessions.Unexpected{PersonID: u.PersonID, EnrolmentID: u.EnrolmentID,
			GroupID: u.GroupID, Role: sessions.Role(u.Role)}
	}
	return out
}

// RecordConditions implements POST /v1/sessions/{id}/conditions.
func (h onTheDayHandlers) RecordConditions(ctx context.Context,
	r api.RecordConditionsRequestObject) (api.RecordConditionsResponseObject, error) {
	head, created, err := h.sessions.ReportConditions(ctx, callerOf(ctx),
		conditions(creation(ctx, r.Body.ID), r.ID, *r.Body))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordConditions200JSONResponse{EntryJSONResponse: api.EntryJSONResponse(entryView(head))}, nil
	}
	return api.RecordConditions201JSONResponse{Body: entryView(head),
		Headers: api.RecordConditions201ResponseHeaders{Location: "/v1/entries/" + head.ID.String()}}, nil
}

func conditions(key once.Key, session uuid.UUID, b api.ConditionsReport) sessions.Report {
	return sessions.Report{Key: key, SessionID: session, Visibility: optionalReading(b.Visibility),
		Current:     optionalReading(b.Current),
		Temperature: optionalReading(b.WaterTemperature), Note: b.Note, WitnessedBy: b.WitnessedBy, WitnessedAt: b.WitnessedAt}
}

// ListEntries implements GET /v1/sessions/{id}/entries.
func (h onTheDayHandlers) ListEntries(ctx context.Context,
	r api.ListEntriesRequestObject) (api.ListEntriesResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := h.desk.Entries(ctx, callerOf(ctx), r.ID, given(r.Params.Kind, nil), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListEntries200JSONResponse{EntryListJSONResponse: api.EntryListJSONResponse{Headers: api.EntryListResponseHeaders{Link: link},
		Body: api.EntryList{Items: each(list, entryView), NextCursor: orNull(cur)}}}, nil
}

// GetEntry implements GET /v1/entries/{id}.
func (h onTheDayHandlers) GetEntry(ctx context.Context,
	r api.GetEntryRequestObject) (api.GetEntryResponseObject, error) {
	head, err := h.desk.Entry(ctx, callerOf(ctx), r.ID)
	return api.GetEntry200JSONResponse{EntryJSONResponse: api.EntryJSONResponse(entryView(head))}, err
}

// VoidEntry implements POST /v1/entries/{id}/void.
func (h onTheDayHandlers) VoidEntry(ctx context.Context,
	r api.VoidEntryRequestObject) (api.VoidEntryResponseObject, error) {
	head, err := h.desk.VoidEntry(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.VoidEntry200JSONResponse{EntryJSONResponse: api.EntryJSONResponse(entryView(head))}, err
}

// ListOutings implements GET /v1/outings.
func (h onTheDayHandlers) ListOutings(ctx context.Context,
	r api.ListOutingsRequestObject) (api.ListOutingsResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := h.sessions.Outings(ctx, callerOf(ctx), queryDay(r.Params.OnFrom),
		queryDay(r.Params.OnBefore), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListOutings200JSONResponse{OutingListJSONResponse: api.OutingListJSONResponse{Headers: api.OutingListResponseHeaders{Link: link},
		Body: api.OutingList{Items: each(list, outingView), NextCursor: orNull(cur)}}}, nil
}

// CreateOuting implements POST /v1/outings.
func (h onTheDayHandlers) CreateOuting(ctx context.Context,
	r api.CreateOutingRequestObject) (api.CreateOutingResponseObject, error) {
	o, created, err := h.sessions.NewOuting(ctx, callerOf(ctx), creation(ctx, r.Body.ID), r.Body.Title,
		r.Body.HeldOn.Time)
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateOuting200JSONResponse{OutingJSONResponse: outingAnswer(o)}, nil
	}
	return api.CreateOuting201JSONResponse{Body: outingView(o),
		Headers: api.CreateOuting201ResponseHeaders{ETag: etag(o.Version), Location: "/v1/outings/" +
			o.ID.String()}}, nil
}

// GetOuting implements GET /v1/outings/{id}.
func (h onTheDayHandlers) GetOuting(ctx context.Context,
	r api.GetOutingRequestObject) (api.GetOutingResponseObject, error) {
	v, err := h.sessions.Outing(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	o := outingView(v.Outing)
	return api.GetOuting200JSONResponse{OutingViewJSONResponse: api.OutingViewJSONResponse{Headers: api.OutingViewResponseHeaders{ETag: etag(v.Version)},
		Body: api.OutingView{ID: o.ID, Version: o.Version, Title: o.Title, HeldOn: o.HeldOn,
			SessionIds: o.SessionIds, CreatedAt: o.CreatedAt, UpdatedAt: o.UpdatedAt,
			Aboard: each(v.Aboard, aboardView),
			HeadCounts: each(v.Counts, func(c sessions.LegCount) api.HeadCountState {
				return api.HeadCountState{Phase: string(c.Leg.Phase), DiveNumber: diveNumber(c.Leg),
					State: string(c.State), OnList: c.OnList, Expected: c.Expected,
					InWater: each(c.InWater, aboardView), Findings: findings(c.Findings)}
			})}}}, nil
}

// ChangeOuting implements PATCH /v1/outings/{id}.
func (h onTheDayHandlers) ChangeOuting(ctx context.Context,
	r api.ChangeOutingRequestObject) (api.ChangeOutingResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	o, err := h.sessions.ChangeOuting(ctx, callerOf(ctx), r.ID, version, r.Body.Title)
	return api.ChangeOuting200JSONResponse{OutingJSONResponse: outingAnswer(o)}, err
}

func outingAnswer(o sessions.Outing) api.OutingJSONResponse {
	return api.OutingJSONResponse{Headers: api.OutingResponseHeaders{ETag: etag(o.Version)},
		Body: outingView(o)}
}

func outingView(o sessions.Outing) api.Outing {
	return api.Outing{ID: o.ID, Version: o.Version, Title: o.Title, HeldOn: date(o.OnDay),
		SessionIds: append([]api.ID{}, o.SessionIDs...),
		CreatedAt:  o.CreatedAt.UTC(), UpdatedAt: o.UpdatedAt.UTC()}
}

// RecordGuest implements POST /v1/outings/{id}/guests.
func (h onTheDayHandlers) RecordGuest(ctx context.Context,
	r api.RecordGuestRequestObject) (api.RecordGuestResponseObject, error) {
	g, created, err := h.sessions.AddGuest(ctx, callerOf(ctx), creation(ctx, r.Body.ID),
		sessions.Guest{OutingID: r.ID, PersonID: r.Body.PersonID, Name: r.Body.Name,
			Part: given(r.Body.Part, "")})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordGuest200JSONResponse{GuestJSONResponse: api.GuestJSONResponse(guestView(g))}, nil
	}
	return api.RecordGuest201JSONResponse{Body: guestView(g),
		Headers: api.RecordGuest201ResponseHeaders{Location: "/v1/outings/" + g.OutingID.String()}}, nil
}

// GuestLeaves implements POST /v1/outing-guests/{id}/leave.
func (h onTheDayHandlers) GuestLeaves(ctx context.Context,
	r api.GuestLeavesRequestObject) (api.GuestLeavesResponseObject, error) {
	g, err := h.sessions.GuestLeft(ctx, callerOf(ctx), r.ID)
	return api.GuestLeaves200JSONResponse{GuestJSONResponse: api.GuestJSONResponse(guestView(g))}, err
}

func guestView(g sessions.Guest) api.Guest {
	return api.Guest{ID: g.ID, OutingID: g.OutingID, PersonID: orNull(g.PersonID), Name: g.Name, Part: g.Part,
		LeftAt: utc(g.LeftAt), CreatedAt: g.CreatedAt.UTC()}
}

// ListHeadCounts implements GET /v1/outings/{id}/head-counts.
func (h onTheDayHandlers) ListHeadCounts(ctx context.Context,
	r api.ListHeadCountsRequestObject) (api.ListHeadCountsResponseObject, error) {
	list, err := h.sessions.HeadCounts(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x sessions.HeadCount) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListHeadCounts200JSONResponse{HeadCountListJSONResponse: api.HeadCountListJSONResponse{
		Headers: api.HeadCountListResponseHeaders{Link: p.link},
		Body:    api.HeadCountList{Items: each(p.items, headCountView), NextCursor: p.cursor},
	}}, nil
}

// RecordHeadCount implements POST /v1/outings/{id}/head-counts.
func (h onTheDayHandlers) RecordHeadCount(ctx context.Context,
	r api.RecordHeadCountRequestObject) (api.RecordHeadCountResponseObject, error) {
	count, created, err := h.sessions.CountHeads(ctx, callerOf(ctx),
		headCount(creation(ctx, r.Body.ID), r.ID, *r.Body))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordHeadCount200JSONResponse{HeadCountJSONResponse: api.HeadCountJSONResponse(headCountView(count))}, nil
	}
	return api.RecordHeadCount201JSONResponse{Body: headCountView(count),
		Headers: api.RecordHeadCount201ResponseHeaders{Location: "/v1/entries/" + count.ID.String()}}, nil
}

func headCount(key once.Key, outing uuid.UUID, b api.HeadCountAdd) sessions.NewHeadCount {
	out := sessions.NewHeadCount{Key: key, OutingID: outing, Phase: b.Phase, Dive: b.DiveNumber,
		Figure: b.Figure, CountedBy: b.CountedBy, CountedAt: b.CountedAt}
	for _, n := range given(b.ByName, nil) {
		out.ByName = append(out.ByName,
			sessions.NamedAboard{PersonID: n.PersonID, GuestID: n.GuestID, AccountedFor: n.AccountedFor})
	}
	return out
}

func headCountView(h sessions.HeadCount) api.HeadCount {
	return api.HeadCount{ID: h.ID, OutingID: h.OutingID, Phase: h.Phase, DiveNumber: diveNumber(h.Leg),
		Figure: h.Figure, OnList: h.OnList, Expected: h.Expected,
		InWater: each(h.InWater, aboardView), CountedBy: h.CountedBy, RecordedBy: orNull(h.RecordedBy),
		CountedAt: h.CountedAt.UTC(),
		ByName: each(h.ByName, func(n sessions.NamedAboard) api.CountedByName {
			return api.CountedByName{PersonID: orNull(n.PersonID), GuestID: orNull(n.GuestID),
				AccountedFor: orNull(n.AccountedFor)}
		}),
		RecordedAt: h.RecordedAt.UTC(), VoidedAt: utc(h.VoidedAt), State: string(h.State), Findings: findings(h.Findings)}
}

func aboardView(a sessions.ListedPerson) api.Aboard {
	return api.Aboard{PersonID: orNull(a.PersonID), GuestID: orNull(a.GuestID), Name: a.Name, Part: a.Part}
}

// diveNumber returns the dive after which heads are counted, null for another leg.
func diveNumber(l roster.Leg) nullable.Nullable[int] {
	if l.Dive == 0 {
		return orNull[int](nil)
	}
	return orNull(&l.Dive)
}

// ListIncidents implements GET /v1/outings/{id}/incidents.
func (h onTheDayHandlers) ListIncidents(ctx context.Context,
	r api.ListIncidentsRequestObject) (api.ListIncidentsResponseObject, error) {
	list, err := h.sessions.Incidents(ctx, callerOf(ctx), &r.ID, nil)
	if err != nil {
		return nil, err
	}
	page, err := incidentList(ctx, r.Params.Limit, r.Params.Cursor, list)
	return api.ListIncidents200JSONResponse{IncidentListJSONResponse: page}, err
}

// ListSessionIncidents implements GET /v1/sessions/{id}/incidents.
func (h onTheDayHandlers) ListSessionIncidents(ctx context.Context,
	r api.ListSessionIncidentsRequestObject) (api.ListSessionIncidentsResponseObject, error) {
	list, err := h.sessions.Incidents(ctx, callerOf(ctx), nil, &r.ID)
	if err != nil {
		return nil, err
	}
	page, err := incidentList(ctx, r.Params.Limit, r.Params.Cursor, list)
	return api.ListSessionIncidents200JSONResponse{IncidentListJSONResponse: page}, err
}

func incidentList(ctx context.Context, limit *api.Limit, cursor *api.Cursor,
	list []sessions.Incident) (api.IncidentListJSONResponse, error) {
	p, err := pageOf(ctx, limit, cursor, list, func(i sessions.Incident) string { return i.ID.String() })
	return api.IncidentListJSONResponse{
		Headers: api.IncidentListResponseHeaders{Link: p.link},
		Body:    api.IncidentList{Items: each(p.items, incidentView), NextCursor: p.cursor},
	}, err
}

// RecordIncident implements POST /v1/outings/{id}/incidents.
func (h onTheDayHandlers) RecordIncident(ctx context.Context,
	r api.RecordIncidentRequestObject) (api.RecordIncidentResponseObject, error) {
	n := incident(creation(ctx, r.Body.ID), *r.Body)
	n.OutingID = &r.ID
	i, created, err := h.sessions.RecordIncident(ctx, callerOf(ctx), n)
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordIncident200JSONResponse{IncidentJSONResponse: api.IncidentJSONResponse(incidentView(i))}, nil
	}
	return api.RecordIncident201JSONResponse{Body: incidentView(i),
		Headers: api.RecordIncident201ResponseHeaders{Location: "/v1/entries/" + i.ID.String()}}, nil
}

// RecordSessionIncident implements POST /v1/sessions/{id}/incidents.
func (h onTheDayHandlers) RecordSessionIncident(ctx context.Context,
	r api.RecordSessionIncidentRequestObject) (api.RecordSessionIncidentResponseObject, error) {
	n := incident(creation(ctx, r.Body.ID), *r.Body)
	n.SessionID = &r.ID
	i, created, err := h.sessions.RecordIncident(ctx, callerOf(ctx), n)
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordSessionIncident200JSONResponse{IncidentJSONResponse: api.IncidentJSONResponse(incidentView(i))}, nil
	}
	return api.RecordSessionIncident201JSONResponse{Body: incidentView(i),
		Headers: api.RecordSessionIncident201ResponseHeaders{Location: "/v1/entries/" + i.ID.String()}}, nil
}

func incident(key once.Key, b api.IncidentAdd) sessions.NewIncident {
	return sessions.NewIncident{Key: key, What: b.What, Actions: given(b.Actions, ""),
		OxygenFromAt: b.OxygenFromAt, OxygenToAt: b.OxygenToAt,
		Called: given(b.Called, ""), EndsAlarm: given(b.EndsAlarm, false), WitnessedBy: b.WitnessedBy,
		WitnessedAt: b.WitnessedAt,
		People: each(given(b.People, nil), func(p api.IncidentPerson) sessions.IncidentPerson {
			return sessions.IncidentPerson{PersonID: p.PersonID, Part: p.Part}
		})}
}

func incidentView(i sessions.Incident) api.Incident {
	return api.Incident{ID: i.ID, OutingID: orNull(i.OutingID), SessionID: orNull(i.SessionID), What: i.What,
		Actions:      i.Actions,
		OxygenFromAt: utc(i.OxygenFromAt), OxygenToAt: utc(i.OxygenToAt), Called: i.Called,
		EndsAlarm: i.EndsAlarm,
		People: each(i.People, func(p sessions.IncidentPerson) api.IncidentPerson {
			return api.IncidentPerson{PersonID: p.PersonID, Part: p.Part}
		}),
		WitnessedBy: i.WitnessedBy, RecordedBy: orNull(i.RecordedBy), WitnessedAt: i.WitnessedAt.UTC(), RecordedAt: i.RecordedAt.UTC(), VoidedAt: utc(i.VoidedAt)}
}
