package httpapi

import (
	"context"
	"maps"

	"tankside/api"
	"tankside/internal/actor"
	"tankside/internal/desk"
	"tankside/internal/finding"
	"tankside/internal/httpapi/request"
	"tankside/internal/people"
)

// personHandlers serves people.
type personHandlers struct {
	desk      *desk.Service
	people    *people.Service
	peopleFor byDryRun[*people.Service]
}

// CreatePerson implements POST /v1/people.
func (h personHandlers) CreatePerson(ctx context.Context,
	r api.CreatePersonRequestObject) (api.CreatePersonResponseObject, error) {
	person, created, err := h.people.AddPerson(ctx, callerOf(ctx), people.NewPerson{
		Key:   creation(ctx, r.Body.ID),
		Roles: each(r.Body.Roles, func(role string) actor.Role { return actor.Role(role) }),
		PersonFields: people.PersonFields{
			Name:              r.Body.Name,
			BirthOn:           r.Body.BirthOn.Time,
			GaugeUnit:         given(r.Body.GaugeUnit, ""),
			Email:             optional(r.Body.Email),
			Phone:             optional(r.Body.Phone),
			EmergencyName:     optional(r.Body.EmergencyName),
			EmergencyPhone:    optional(r.Body.EmergencyPhone),
			EmergencyRelation: optional(r.Body.EmergencyRelation),
			ExternalRefs:      given(r.Body.ExternalRefs, nil),
		},
	})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreatePerson200JSONResponse{PersonJSONResponse: personAnswer(person, nil)}, nil
	}
	return api.CreatePerson201JSONResponse{
		Headers: api.CreatePerson201ResponseHeaders{ETag: etag(person.Version), Location: "/v1/people/" +
			person.ID.String()},
		Body: personView(person, nil),
	}, nil
}

// ListPeople implements GET /v1/people.
func (h personHandlers) ListPeople(ctx context.Context,
	r api.ListPeopleRequestObject) (api.ListPeopleResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, descending(r.Params.Sort))
	if err != nil {
		return nil, err
	}
	from, err := since(r.Params.UpdatedSince)
	if err != nil {
		return nil, err
	}
	list, after, horizon, err := h.people.People(ctx, callerOf(ctx),
		people.PersonFilter{Roles: given(r.Params.Role, nil), Name: r.Params.Q, Since: from}, p)
	if err != nil {
		return nil, err
	}
	cursor, link := next(ctx, after)
	return api.ListPeople200JSONResponse{PersonListJSONResponse: api.PersonListJSONResponse{
		Headers: api.PersonListResponseHeaders{Link: link},
		Body: api.PersonList{Items: each(list, plainPerson), NextCursor: orNull(cursor),
			UpdatedToken: updatedToken(r.Params.Cursor, horizon)},
	}}, nil
}

// ImportPeople implements POST /v1/people/import.
func (h personHandlers) ImportPeople(ctx context.Context,
	r api.ImportPeopleRequestObject) (api.ImportPeopleResponseObject, error) {
	list, _, err := h.peopleFor(r.Params.DryRun).ImportList(ctx, callerOf(ctx),
		creation(ctx, nil), request.CallFrom(ctx).Body)
	if err != nil {
		return nil, err
	}
	return api.ImportPeople200JSONResponse{PeopleTakenInDecidedJSONResponse: api.PeopleTakenInDecidedJSONResponse{
		Body: api.PeopleTakenIn{Items: each(list, plainPerson)}}}, nil
}

// GetPerson implements GET /v1/people/{id}.
func (h personHandlers) GetPerson(ctx context.Context,
	r api.GetPersonRequestObject) (api.GetPersonResponseObject, error) {
	person, err := h.people.Person(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetPerson200JSONResponse{PersonJSONResponse: personAnswer(person, nil)}, nil
}

// ChangePerson implements PATCH /v1/people/{id}.
func (h personHandlers) ChangePerson(ctx context.Context,
	r api.ChangePersonRequestObject) (api.ChangePersonResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	person, found, err := h.desk.ChangePerson(ctx, callerOf(ctx), r.ID, version, func(f *people.PersonFields) {
		patch(&f.Name, r.Body.Name)
		if r.Body.BirthOn != nil {
			f.BirthOn = r.Body.BirthOn.Time
		}
		patch(&f.GaugeUnit, r.Body.GaugeUnit)
		patchNull(&f.Email, r.Body.Email)
		patchNull(&f.Phone, r.Body.Phone)
		patchNull(&f.EmergencyName, r.Body.EmergencyName)
		patchNull(&f.EmergencyPhone, r.Body.EmergencyPhone)
		patchNull(&f.EmergencyRelation, r.Body.EmergencyRelation)
		f.ExternalRefs = patchRefs(f.ExternalRefs, r.Body.ExternalRefs)
	}, given(r.Body.Reason, ""))
	if err != nil {
		return nil, err
	}
	return api.ChangePerson200JSONResponse{PersonJSONResponse: personAnswer(person, found)}, nil
}

// ListCorrections implements GET /v1/people/{id}/corrections.
func (h personHandlers) ListCorrections(ctx context.Context,
	r api.ListCorrectionsRequestObject) (api.ListCorrectionsResponseObject, error) {
	list, err := h.people.Corrections(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x people.Correction) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListCorrections200JSONResponse{CorrectionListJSONResponse: api.CorrectionListJSONResponse{
		Headers: api.CorrectionListResponseHeaders{Link: p.link},
		Body:    api.CorrectionList{Items: each(p.items, correctionView), NextCursor: p.cursor},
	}}, nil
}

func correctionView(c people.Correction) api.Correction {
	return api.Correction{ID: c.ID, PersonID: c.PersonID, Member: c.Member, Before: c.Before, After: c.After,
		Reason:      c.Reason,
		CorrectedBy: c.CorrectedBy, CorrectedByName: c.CorrectedName, CorrectedAt: c.CorrectedAt.UTC()}
}

// GiveRole implements PUT /v1/people/{id}/roles/{role}.
func (h personHandlers) GiveRole(ctx context.Context,
	r api.GiveRoleRequestObject) (api.GiveRoleResponseObject, error) {
	person, err := h.people.GiveRole(ctx, callerOf(ctx), r.ID, actor.Role(r.Role))
	if err != nil {
		return nil, err
	}
	return api.GiveRole200JSONResponse{PersonJSONResponse: personAnswer(person, nil)}, nil
}

// TakeRole implements DELETE /v1/people/{id}/roles/{role}.
func (h personHandlers) TakeRole(ctx context.Context,
	r api.TakeRoleRequestObject) (api.TakeRoleResponseObject, error) {
	person, err := h.people.TakeRole(ctx, callerOf(ctx), r.ID, actor.Role(r.Role))
	if err != nil {
		return nil, err
	}
	return api.TakeRole200JSONResponse{PersonJSONResponse: personAnswer(person, nil)}, nil
}

// patchRefs merges keys of other programs into those that are there: null takes
// one away.
func patchRefs(have map[string]string, p *api.ExternalRefsPatch) map[string]string {
	if p == nil {
		return have
	}
	out := map[string]string{}
	maps.Copy(out, have)
	for name, key := range *p {
		if key == nil {
			delete(out, name)
		} else {
			out[name] = *key
		}
	}
	return out
}

func personAnswer(p people.Person, found finding.List) api.PersonJSONResponse {
	return api.PersonJSONResponse{Headers: api.PersonResponseHeaders{ETag: etag(p.Version)},
		Body: personView(p, found)}
}

func plainPerson(p people.Person) api.Person { return personView(p, nil) }

func personView(p people.Person, found finding.List) api.Person {
	refs := p.ExternalRefs
	if refs == nil {
		refs = map[string]string{}
	}
	return api.Person{
		ID:                p.ID,
		Version:           p.Version,
		Name:              p.Name,
		BirthOn:           date(p.BirthOn),
		GaugeUnit:         p.GaugeUnit,
		Roles:             texts(p.Roles),
		Email:             orNull(p.Email),
		Phone:             orNull(p.Phone),
		EmergencyName:     orNull(p.EmergencyName),
		EmergencyPhone:    orNull(p.EmergencyPhone),
		EmergencyRelation: orNull(p.EmergencyRelation),
		ExternalRefs:      refs,
		CreatedAt:         p.CreatedAt.UTC(),
		UpdatedAt:         p.UpdatedAt.UTC(),
		Findings:          findings(found),
	}
}
