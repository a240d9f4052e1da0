package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/courses"
	"tankside/internal/finding"
	"tankside/internal/offline"
	"tankside/internal/ratio"
	"tankside/internal/sessions"
)

// sessionHandlers serves sessions.
type sessionHandlers struct {
	courses     *courses.Service
	offline     *offline.Service
	offlineFor  byDryRun[*offline.Service]
	sessions    *sessions.Service
	sessionsFor byDryRun[*sessions.Service]
}

// ListCourseSessions implements GET /v1/courses/{id}/sessions.
func (h sessionHandlers) ListCourseSessions(ctx context.Context,
	r api.ListCourseSessionsRequestObject) (api.ListCourseSessionsResponseObject, error) {
	if _, err := h.courses.Course(ctx, callerOf(ctx), r.ID); err != nil {
		return nil, err
	}
	from, err := since(r.Params.UpdatedSince)
	if err != nil {
		return nil, err
	}
	list, err := h.listSessions(ctx,
		sessions.Filter{CourseIDs: []api.ID{r.ID}, States: given(r.Params.State, nil),
			Since: from}, r.Params.Limit, r.Params.Cursor, r.Params.Sort)
	return api.ListCourseSessions200JSONResponse{SessionListJSONResponse: list}, err
}

// ListSessions implements GET /v1/sessions.
func (h sessionHandlers) ListSessions(ctx context.Context,
	r api.ListSessionsRequestObject) (api.ListSessionsResponseObject, error) {
	from, err := since(r.Params.UpdatedSince)
	if err != nil {
		return nil, err
	}
	list, err := h.listSessions(ctx, sessions.Filter{
		CourseIDs:    given(r.Params.CourseID, nil),
		SiteIDs:      given(r.Params.SiteID, nil),
		PersonIDs:    given(r.Params.PersonID, nil),
		States:       given(r.Params.State, nil),
		StartsFrom:   r.Params.StartsFrom,
		StartsBefore: r.Params.StartsBefore,
		Since:        from,
	}, r.Params.Limit, r.Params.Cursor, r.Params.Sort)
	return api.ListSessions200JSONResponse{SessionListJSONResponse: list}, err
}

func (h sessionHandlers) listSessions(ctx context.Context,
	f sessions.Filter, limit *int, cursor, sort *string) (out api.SessionListJSONResponse, err error) {
	p, err := paged(ctx, limit, cursor, descending(sort))
	if err != nil {
		return out, err
	}
	list, after, horizon, err := h.sessions.Sessions(ctx, callerOf(ctx), f, p)
	if err != nil {
		return out, err
	}
	cur, link := next(ctx, after)
	return api.SessionListJSONResponse{Headers: api.SessionListResponseHeaders{Link: link},
		Body: api.SessionList{Items: each(list,
			func(x sessions.Session) api.Session {
				return sessionView(x,
					nil)
			}), NextCursor: orNull(cur), UpdatedToken: updatedToken(cursor, horizon)}}, nil
}

// CreateSession implements POST /v1/courses/{id}/sessions.
func (h sessionHandlers) CreateSession(ctx context.Context,
	r api.CreateSessionRequestObject) (api.CreateSessionResponseObject, error) {
	b := r.Body
	kind := ratio.Setting(b.Kind)
	n := sessions.NewSession{Key: creation(ctx, b.ID), CourseID: r.ID, Kind: kind, Title: b.Title,
		SiteID: b.SiteID, OutingID: b.OutingID,
		Times: sessions.Times{StartsLocal: b.StartsLocal, EndsLocal: b.EndsLocal,
			UTCOffset: b.UtcOffset},
		PlacesLowered: b.PlacesLowered}
	switch kind {
	case ratio.Open:
		n.TrainingDives = given(b.TrainingDives, nil)
	case ratio.Confined:
		n.ConfinedDives = given(b.ConfinedDives, 1)
	}
	out, found, created, err := h.sessionsFor(r.Params.DryRun).PlanSession(ctx, callerOf(ctx),
		n, acceptances(b.Accept))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateSession200JSONResponse{SessionDecidedJSONResponse: sessionDecided(out, found)}, nil
	}
	return api.CreateSession201JSONResponse{Body: sessionView(out, found),
		Headers: api.CreateSession201ResponseHeaders{ETag: etag(out.Version), Location: "/v1/sessions/" +
			out.ID.String()}}, nil
}

// GetSession implements GET /v1/sessions/{id}.
func (h sessionHandlers) GetSession(ctx context.Context,
	r api.GetSessionRequestObject) (api.GetSessionResponseObject, error) {
	out, err := h.sessions.Session(ctx, callerOf(ctx), r.ID)
	return api.GetSession200JSONResponse{SessionJSONResponse: sessionAnswer(out)}, err
}

// ChangeSession implements PATCH /v1/sessions/{id}.
func (h sessionHandlers) ChangeSession(ctx context.Context,
	r api.ChangeSessionRequestObject) (api.ChangeSessionResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	out, found, err := h.sessionsFor(r.Params.DryRun).ChangeSession(ctx, callerOf(ctx), r.ID, version,
		func(f *sessions.SessionFields) {
			patch(&f.Title, r.Body.Title)
			patchNull(&f.PlacesLowered, r.Body.PlacesLowered)
			if r.Body.OutingID != nil {
				f.OutingID = r.Body.OutingID
			}
		}, acceptances(r.Body.Accept))
	return api.ChangeSession200JSONResponse{SessionDecidedJSONResponse: sessionDecided(out, found)}, err
}

// MoveSession implements POST /v1/sessions/{id}/move.
func (h sessionHandlers) MoveSession(ctx context.Context,
	r api.MoveSessionRequestObject) (api.MoveSessionResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	b := r.Body
	out, found, err := h.sessionsFor(r.Params.DryRun).MoveSession(ctx, callerOf(ctx),
		sessions.Rescheduling{SessionID: r.ID, SiteID: b.SiteID, Reason: given(b.Reason, ""), Version: version,
			Times: sessions.Times{StartsLocal: b.StartsLocal, EndsLocal: b.EndsLocal,
				UTCOffset: b.UtcOffset}}, acceptances(b.Accept))
	return api.MoveSession200JSONResponse{SessionDecidedJSONResponse: sessionDecided(out, found)}, err
}

// CancelSession implements POST /v1/sessions/{id}/cancel.
func (h sessionHandlers) CancelSession(ctx context.Context,
	r api.CancelSessionRequestObject) (api.CancelSessionResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	out, err := h.sessions.CancelSession(ctx, callerOf(ctx), r.ID, r.Body.Reason, version)
	return api.CancelSession200JSONResponse{SessionJSONResponse: sessionAnswer(out)}, err
}

// OpenSession implements POST /v1/sessions/{id}/open.
func (h sessionHandlers) OpenSession(ctx context.Context,
	r api.OpenSessionRequestObject) (api.OpenSessionResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	var accept *api.Accept
	if r.Body != nil {
		accept = r.Body.Accept
	}
	var out sessions.Session
	var found finding.List
	err = h.offlineFor(r.Params.DryRun).AtGate(ctx, callerOf(ctx),
		r.ID, func(ctx context.Context) error {
			out, found, err = h.sessionsFor(r.Params.DryRun).OpenSession(ctx, callerOf(ctx),
				r.ID, version, acceptances(accept))
			return err
		})
	return api.OpenSession200JSONResponse{SessionDecidedJSONResponse: sessionDecided(out, found)}, err
}

// CloseSession implements POST /v1/sessions/{id}/close.
func (h sessionHandlers) CloseSession(ctx context.Context,
	r api.CloseSessionRequestObject) (api.CloseSessionResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	complete := r.Body != nil && given(r.Body.LogComplete, false)
	var out sessions.Session
	var found finding.List
	err = h.offline.AtGate(ctx, callerOf(ctx), r.ID, func(ctx context.Context) error {
		out, found, err = h.sessions.CloseSession(ctx, callerOf(ctx), r.ID, complete, version)
		return err
	})
	return api.CloseSession200JSONResponse{SessionJSONResponse: sessionAnswer(out, found...)}, err
}

// AbandonSession implements POST /v1/sessions/{id}/abandon.
func (h sessionHandlers) AbandonSession(ctx context.Context,
	r api.AbandonSessionRequestObject) (api.AbandonSessionResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	out, found, err := h.sessions.AbandonSession(ctx, callerOf(ctx), r.ID, r.Body.Reason, version)
	return api.AbandonSession200JSONResponse{SessionJSONResponse: sessionAnswer(out, found...)}, err
}

// GetDay implements GET /v1/people/{id}/days/{date}.
func (h sessionHandlers) GetDay(ctx context.Context,
	r api.GetDayRequestObject) (api.GetDayResponseObject, error) {
	day, err := h.sessions.DayOf(ctx, callerOf(ctx), r.ID, r.Date.Time)
	if err != nil {
		return nil, err
	}
	return api.GetDay200JSONResponse{PersonDayJSONResponse: api.PersonDayJSONResponse{
		Body: api.PersonDay{PersonID: day.PersonID, On: date(day.On),
			Sessions: each(day.Sessions, sessionDayView)}}}, nil
}

// GetReadiness implements GET /v1/people/{id}/readiness.
func (h sessionHandlers) GetReadiness(ctx context.Context,
	r api.GetReadinessRequestObject) (api.GetReadinessResponseObject, error) {
	out, err := h.sessions.Readiness(ctx, callerOf(ctx), r.ID, queryDay(r.Params.On))
	if err != nil {
		return nil, err
	}
	return api.GetReadiness200JSONResponse{ReadinessJSONResponse: api.ReadinessJSONResponse{
		Body: api.Readiness{PersonID: r.ID, On: date(out.On), Parts: each(out.Parts, readyView)}}}, nil
}

func readyView(p sessions.ReadyPart) api.ReadyPart {
	return api.ReadyPart{Part: string(p.Part), Ready: p.Ready(), Findings: findings(p.Found)}
}

func sessionDayView(d sessions.SessionDay) api.SessionDay {
	return api.SessionDay{
		Session: sessionView(d.Session, nil),
		Groups:  each(d.Groups, func(g sessions.Group) api.Group { return groupView(g, nil) }),
		Participants: each(d.Participants,
			func(p sessions.Participant) api.Participant { return participantView(p, nil) }),
		Findings: findings(d.Findings),
	}
}

func sessionAnswer(x sessions.Session, found ...finding.Finding) api.SessionJSONResponse {
	return api.SessionJSONResponse{Headers: api.SessionResponseHeaders{ETag: etag(x.Version)},
		Body: sessionView(x, found)}
}

func sessionDecided(x sessions.Session, found finding.List) api.SessionDecidedJSONResponse {
	return api.SessionDecidedJSONResponse{Headers: api.SessionDecidedResponseHeaders{ETag: new(etag(x.Version))}, Body: sessionView(x, found)}
}

func sessionView(x sessions.Session, found finding.List) api.Session {
	return api.Session{
		ID:               x.ID,
		Version:          x.Version,
		CourseID:         x.CourseID,
		Kind:             string(x.Kind),
		Title:            x.Title,
		SiteID:           orNull(x.SiteID),
		OutingID:         orNull(x.OutingID),
		StartsLocal:      local(x.StartsLocal),
		EndsLocal:        local(x.EndsLocal),
		TimeZone:         x.TimeZone,
		StartsAt:         x.StartsAt.UTC(),
		EndsAt:           x.EndsAt.UTC(),
		HeldOn:           date(x.OnDay),
		State:            string(x.State),
		StateReason:      orNull(x.StateReason),
		OpenedAt:         utc(x.OpenedAt),
		EndedAt:          utc(x.EndedAt),
		LogComplete:      x.LogComplete,
		PlacesLowered:    orNull(x.PlacesLowered),
		Visibility:       optionalQuantity(x.Visibility),
		Current:          optionalQuantity(x.Current),
		WaterTemperature: optionalQuantity(x.Temperature),
		Dives: each(x.Dives, func(d sessions.Dive) api.PlannedDive {
			return api.PlannedDive{ID: d.ID, Number: d.Number, TrainingDive: orNull(d.TrainingDive)}
		}),
		CreatedAt: x.CreatedAt.UTC(),
		UpdatedAt: x.UpdatedAt.UTC(),
		Findings:  findingsIn(x.ID, found),
	}
}
