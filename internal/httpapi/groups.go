package httpapi

import (
	"context"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/people"
	"tankside/internal/sessions"
)

// groupHandlers serves groups and participants.
type groupHandlers struct {
	people      *people.Service
	sessions    *sessions.Service
	sessionsFor byDryRun[*sessions.Service]
}

// ListGroups implements GET /v1/sessions/{id}/groups.
func (h groupHandlers) ListGroups(ctx context.Context,
	r api.ListGroupsRequestObject) (api.ListGroupsResponseObject, error) {
	list, err := h.sessions.Groups(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x sessions.Group) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListGroups200JSONResponse{GroupListJSONResponse: api.GroupListJSONResponse{
		Headers: api.GroupListResponseHeaders{Link: p.link},
		Body: api.GroupList{Items: each(p.items,
			func(g sessions.Group) api.Group { return groupView(g, nil) }), NextCursor: p.cursor},
	}}, nil
}

// CreateGroup implements POST /v1/sessions/{id}/groups.
func (h groupHandlers) CreateGroup(ctx context.Context,
	r api.CreateGroupRequestObject) (api.CreateGroupResponseObject, error) {
	g, found, created, err := h.sessionsFor(r.Params.DryRun).OpenGroup(ctx, callerOf(ctx),
		sessions.NewGroup{Key: creation(ctx, r.Body.ID), SessionID: r.ID, Name: r.Body.Name,
			InCharge: r.Body.InstructorID, PlacesLowered: r.Body.PlacesLowered}, acceptances(r.Body.Accept))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateGroup200JSONResponse{GroupDecidedJSONResponse: groupDecided(g, found)}, nil
	}
	return api.CreateGroup201JSONResponse{Body: groupView(g, found),
		Headers: api.CreateGroup201ResponseHeaders{ETag: etag(g.Version), Location: "/v1/groups/" +
			g.ID.String()}}, nil
}

// GetGroup implements GET /v1/groups/{id}.
func (h groupHandlers) GetGroup(ctx context.Context,
	r api.GetGroupRequestObject) (api.GetGroupResponseObject, error) {
	g, err := h.sessions.Group(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetGroup200JSONResponse{GroupJSONResponse: api.GroupJSONResponse{Headers: api.GroupResponseHeaders{ETag: etag(g.Version)}, Body: groupView(g, nil)}}, nil
}

// ChangeGroup implements PATCH /v1/groups/{id}.
func (h groupHandlers) ChangeGroup(ctx context.Context,
	r api.ChangeGroupRequestObject) (api.ChangeGroupResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	g, found, err := h.sessionsFor(r.Params.DryRun).ChangeGroup(ctx, callerOf(ctx),
		r.ID, version, func(f *sessions.GroupFields) {
			patch(&f.Name, r.Body.Name)
			patchNull(&f.PlacesLowered, r.Body.PlacesLowered)
		}, acceptances(r.Body.Accept))
	if err != nil {
		return nil, err
	}
	return api.ChangeGroup200JSONResponse{GroupDecidedJSONResponse: groupDecided(g, found)}, nil
}

// DeleteGroup implements DELETE /v1/groups/{id}.
func (h groupHandlers) DeleteGroup(ctx context.Context,
	r api.DeleteGroupRequestObject) (api.DeleteGroupResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	return api.DeleteGroup204Response{}, h.sessions.DeleteGroup(ctx, callerOf(ctx), r.ID, version)
}

// ReplaceInstructor implements POST /v1/groups/{id}/replace-instructor.
func (h groupHandlers) ReplaceInstructor(ctx context.Context,
	r api.ReplaceInstructorRequestObject) (api.ReplaceInstructorResponseObject, error) {
	version, err := optionalMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	g, found, err := h.sessionsFor(r.Params.DryRun).ReplaceInstructor(ctx, callerOf(ctx),
		sessions.Replacement{GroupID: r.ID, PersonID: r.Body.PersonID, Stays: given(r.Body.Stays, false),
			Version: version}, acceptances(r.Body.Accept))
	if err != nil {
		return nil, err
	}
	return api.ReplaceInstructor200JSONResponse{GroupDecidedJSONResponse: groupDecided(g, found)}, nil
}

// ListParticipants implements GET /v1/sessions/{id}/participants.
func (h groupHandlers) ListParticipants(ctx context.Context,
	r api.ListParticipantsRequestObject) (api.ListParticipantsResponseObject, error) {
	list, err := h.sessions.Participants(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(p sessions.Participant) string { return p.ID.String() })
	if err != nil {
		return nil, err
	}
	who, err := includePeople(ctx, h.people, r.Params.Include,
		each(p.items, func(p sessions.Participant) uuid.UUID { return p.PersonID }))
	if err != nil {
		return nil, err
	}
	return api.ListParticipants200JSONResponse{ParticipantListJSONResponse: api.ParticipantListJSONResponse{
		Headers: api.ParticipantListResponseHeaders{Link: p.link},
		Body: api.ParticipantList{NextCursor: p.cursor,
			Items: each(p.items, func(p sessions.Participant) api.Participant {
				out := participantView(p, nil)
				out.Person, out.Withheld = who.of(p.PersonID)
				return out
			})}}}, nil
}

// CreateParticipant implements POST /v1/sessions/{id}/participants.
func (h groupHandlers) CreateParticipant(ctx context.Context,
	r api.CreateParticipantRequestObject) (api.CreateParticipantResponseObject, error) {
	b := r.Body
	p, found, created, err := h.sessionsFor(r.Params.DryRun).AddParticipant(ctx, callerOf(ctx),
		sessions.NewParticipant{Key: creation(ctx, b.ID), SessionID: r.ID, GroupID: b.GroupID,
			PersonID: zeroUnless(b.PersonID), EnrolmentID: b.EnrolmentID, Role: sessions.Role(b.Role),
			GaugeUnit: b.GaugeUnit,
			NotDiving: given(b.NotDiving, false)}, acceptances(b.Accept))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateParticipant200JSONResponse{ParticipantDecidedJSONResponse: api.ParticipantDecidedJSONResponse{
			Headers: api.ParticipantDecidedResponseHeaders{ETag: new(etag(p.Version))}, Body: participantView(p,
				found)}}, nil
	}
	return api.CreateParticipant201JSONResponse{Body: participantView(p, found),
		Headers: api.CreateParticipant201ResponseHeaders{ETag: etag(p.Version), Location: "/v1/participants/" +
			p.ID.String()}}, nil
}

// GetParticipant implements GET /v1/participants/{id}.
func (h groupHandlers) GetParticipant(ctx context.Context,
	r api.GetParticipantRequestObject) (api.GetParticipantResponseObject, error) {
	p, err := h.sessions.Participant(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetParticipant200JSONResponse{ParticipantJSONResponse: participantAnswer(p)}, nil
}

// ChangeParticipant implements PATCH /v1/participants/{id}.
func (h groupHandlers) ChangeParticipant(ctx context.Context,
	r api.ChangeParticipantRequestObject) (api.ChangeParticipantResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	p, err := h.sessions.ChangeParticipant(ctx, callerOf(ctx), r.ID, version,
		sessions.ParticipantFields{GaugeUnit: r.Body.GaugeUnit, NotDiving: r.Body.NotDiving})
	if err != nil {
		return nil, err
	}
	return api.ChangeParticipant200JSONResponse{ParticipantJSONResponse: participantAnswer(p)}, nil
}

// RemoveParticipant implements DELETE /v1/participants/{id}, whose decision the edge
// answers.
func (h groupHandlers) RemoveParticipant(ctx context.Context,
	r api.RemoveParticipantRequestObject) (api.RemoveParticipantResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	_, err = h.sessionsFor(r.Params.DryRun).RemoveParticipant(ctx, callerOf(ctx), r.ID, version, nil)
	return api.RemoveParticipant200JSONResponse(nil), err
}

// MoveParticipants implements POST /v1/sessions/{id}/regroup.
func (h groupHandlers) MoveParticipants(ctx context.Context,
	r api.MoveParticipantsRequestObject) (api.MoveParticipantsResponseObject, error) {
	moves := each(r.Body.Moves, func(m api.GroupMove) sessions.Move {
		return sessions.Move{ParticipantID: m.ParticipantID, GroupID: optional(m.GroupID)}
	})
	list, found, err := h.sessionsFor(r.Params.DryRun).Regroup(ctx, callerOf(ctx),
		r.ID, moves, acceptances(r.Body.Accept))
	return api.MoveParticipants200JSONResponse{PlacedDecidedJSONResponse: placed(list, found)}, err
}

// CreatePlacements implements POST /v1/courses/{id}/placements.
func (h groupHandlers) CreatePlacements(ctx context.Context,
	r api.CreatePlacementsRequestObject) (api.CreatePlacementsResponseObject, error) {
	list, found, err := h.sessionsFor(r.Params.DryRun).Place(ctx, callerOf(ctx),
		sessions.Placement{CourseID: r.ID, EnrolmentIDs: r.Body.EnrolmentIds,
			SessionIDs: given(r.Body.SessionIds, nil),
			GroupName:  given(r.Body.GroupName, "")}, acceptances(r.Body.Accept))
	return api.CreatePlacements200JSONResponse{PlacedDecidedJSONResponse: placed(list, found)}, err
}

func placed(list []sessions.Participant, found finding.List) api.PlacedDecidedJSONResponse {
	return api.PlacedDecidedJSONResponse{Body: api.Placed{Findings: findings(found),
		Items: each(list, func(p sessions.Participant) api.Participant { return participantView(p, nil) })}}
}

func groupDecided(g sessions.Group, found finding.List) api.GroupDecidedJSONResponse {
	return api.GroupDecidedJSONResponse{Headers: api.GroupDecidedResponseHeaders{ETag: new(etag(g.Version))},
		Body: groupView(g, found)}
}

// groupView writes a group with what was found when it was decided about, or
// else with what is to be said of it now.
func groupView(g sessions.Group, found finding.List) api.Group {
	if found == nil {
		found = sessions.FoundOf(g)
	}
	return api.Group{
		ID:            g.ID,
		Version:       g.Version,
		SessionID:     g.SessionID,
		Name:          g.Name,
		PlacesLowered: orNull(g.PlacesLowered),
		Students:      g.Students,
		Places:        g.Places,
		Cleared:       g.Cleared,
		CreatedAt:     g.CreatedAt.UTC(),
		UpdatedAt:     g.UpdatedAt.UTC(),
		Findings:      findings(found),
	}
}

func participantAnswer(p sessions.Participant) api.ParticipantJSONResponse {
	return api.ParticipantJSONResponse{Headers: api.ParticipantResponseHeaders{ETag: etag(p.Version)},
		Body: participantView(p, nil)}
}

func participantView(p sessions.Participant, found finding.List) api.Participant {
	return api.Participant{
		ID:           p.ID,
		Version:      p.Version,
		SessionID:    p.SessionID,
		GroupID:      orNull(p.GroupID),
		PersonID:     p.PersonID,
		PersonName:   p.PersonName,
		EnrolmentID:  orNull(p.EnrolmentID),
		Role:         string(p.Role),
		GaugeUnit:    string(p.GaugeUnit),
		Attendance:   string(p.Attendance),
		AttendanceAt: utc(p.AttendanceAt),
		Booked:       p.Booked,
		NotDiving:    p.NotDiving,
		NotDivingBy:  orNull(p.NotDivingBy),
		NotDivingAt:  utc(p.NotDivingAt),
		CreatedAt:    p.CreatedAt.UTC(),
		UpdatedAt:    p.UpdatedAt.UTC(),
		Findings:     findings(found),
	}
}
