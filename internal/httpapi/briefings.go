package httpapi

import (
	"context"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/briefings"
	"tankside/internal/gasplan"
	"tankside/internal/planform"
	"tankside/internal/signal"
)

// briefingHandlers serves briefings.
type briefingHandlers struct {
	briefings *briefings.Service
}

// RecordBriefing implements POST /v1/sessions/{id}/briefings.
func (h briefingHandlers) RecordBriefing(ctx context.Context,
	r api.RecordBriefingRequestObject) (api.RecordBriefingResponseObject, error) {
	b := r.Body
	n := briefings.NewBriefing{Key: creation(ctx, b.ID), SessionID: r.ID, GivenBy: b.GivenBy,
		BriefedAt: b.BriefedAt, Convention: b.Convention,
		Instructions: briefings.Instructions{WhenLow: given(b.WhenLow, ""), WhenOut: given(b.WhenOut, ""),
			WhenSeparated: given(b.WhenSeparated, "")},
		Note: given(b.Note, "")}
	if every := optional(b.CheckEvery); every != nil {
		n.CheckEvery = optionalReading(every)
	}
	if p := b.Pressures; p != nil {
		n.Pressures = briefings.Pressures{Start: optionalReading(p.Start), Turn: optionalReading(p.Turn),
			Low: optionalReading(p.Low)}
	}
	if d := b.Dive; d != nil {
		n.Dive = briefings.NewDive{DiveID: d.DiveID, Depth: (*gasplan.Quantity)(d.Depth),
			PlannedTime: (*gasplan.Quantity)(d.PlannedTime)}
		if d.Cylinder != nil {
			n.Dive.Cylinder = new(planform.Cylinder(*d.Cylinder))
		}
	}
	for _, p := range given(b.People, nil) {
		n.People = append(n.People, briefings.NewPerson{PersonID: p.PersonID, Knows: p.Knows,
			Pressures: briefings.Pressures{Start: optionalReading(p.Start), Turn: optionalReading(p.Turn),
				Low: optionalReading(p.Low)}})
	}
	for _, x := range given(b.Roles, nil) {
		n.Roles = append(n.Roles,
			briefings.Role{Role: x.Role, PersonID: x.PersonID, Name: given(x.Name, "")})
	}
	for _, h := range given(b.Heard, nil) {
		n.Acknowledged = append(n.Acknowledged,
			briefings.NewAcknowledgement{PersonID: h.PersonID, How: briefings.AcknowledgedBy(h.How)})
	}
	out, created, err := h.briefings.Record(ctx, callerOf(ctx), n)
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordBriefing200JSONResponse{BriefingJSONResponse: api.BriefingJSONResponse(briefingView(out))}, nil
	}
	return api.RecordBriefing201JSONResponse{Body: briefingView(out),
		Headers: api.RecordBriefing201ResponseHeaders{Location: "/v1/briefings/" + out.ID.String()}}, nil
}

// ListBriefings implements GET /v1/sessions/{id}/briefings.
func (h briefingHandlers) ListBriefings(ctx context.Context,
	r api.ListBriefingsRequestObject) (api.ListBriefingsResponseObject, error) {
	list, err := h.briefings.List(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x briefings.Briefing) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListBriefings200JSONResponse{BriefingListJSONResponse: api.BriefingListJSONResponse{
		Headers: api.BriefingListResponseHeaders{Link: p.link},
		Body:    api.BriefingList{Items: each(p.items, briefingView), NextCursor: p.cursor},
	}}, nil
}

// GetBriefing implements GET /v1/briefings/{id}.
func (h briefingHandlers) GetBriefing(ctx context.Context,
	r api.GetBriefingRequestObject) (api.GetBriefingResponseObject, error) {
	b, err := h.briefings.Get(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetBriefing200JSONResponse{BriefingJSONResponse: api.BriefingJSONResponse(briefingView(b))}, nil
}

// AcknowledgeBriefing implements POST /v1/briefings/{id}/acknowledge.
func (h briefingHandlers) AcknowledgeBriefing(ctx context.Context,
	r api.AcknowledgeBriefingRequestObject) (api.AcknowledgeBriefingResponseObject, error) {
	b, err := h.briefings.Acknowledge(ctx, callerOf(ctx), r.ID,
		given(r.Body, api.AcknowledgeOwn{}).AcknowledgedAt)
	if err != nil {
		return nil, err
	}
	return api.AcknowledgeBriefing200JSONResponse{BriefingJSONResponse: api.BriefingJSONResponse(briefingView(b))}, nil
}

// RecordAcknowledgements implements POST /v1/briefings/{id}/acknowledgements.
func (h briefingHandlers) RecordAcknowledgements(ctx context.Context,
	r api.RecordAcknowledgementsRequestObject) (api.RecordAcknowledgementsResponseObject, error) {
	acknowledged := each(r.Body.Items, func(x api.AcknowledgementAdd) briefings.NewAcknowledgement {
		return briefings.NewAcknowledgement{ID: x.ID, PersonID: x.PersonID, How: briefings.AcknowledgedBy(x.How),
			WitnessedBy: x.WitnessedBy, WitnessedAt: x.WitnessedAt}
	})
	out, err := h.briefings.RecordAcknowledgements(ctx, callerOf(ctx), r.ID, acknowledged)
	if err != nil {
		return nil, err
	}
	return api.RecordAcknowledgements200JSONResponse{EntryResultsJSONResponse: api.EntryResultsJSONResponse(results(out, nil))}, nil
}

func briefingView(b briefings.Briefing) api.Briefing {
	c := b.Convention
	out := api.Briefing{
		ID:            b.ID,
		SessionID:     b.SessionID,
		GivenBy:       b.GivenBy,
		GivenByName:   b.GivenName,
		GivenInCharge: b.InCharge,
		Dive:          nullable.NewNullNullable[api.BriefedDive](),
		BriefedAt:     b.BriefedAt.UTC(),
		RecordedAt:    b.RecordedAt.UTC(),
		RecordedBy:    orNull(b.RecordedBy),
		VoidedAt:      utc(b.VoidedAt),
		VoidReason:    orNull(b.VoidReason),
		Convention: api.AgreedConvention{Code: c.Code, Name: c.Name, Note: c.Note, Unit: string(c.Unit),
			Hands: int(c.Hands), Style: string(c.Style),
			Ten: unlessEmpty(string(c.Ten)), Region: unlessEmpty(string(c.Region)), Signs: signViews(c.Signs)},
		CheckEvery:    optionalQuantity(b.CheckEvery),
		WhenLow:       b.WhenLow,
		WhenOut:       b.WhenOut,
		WhenSeparated: b.WhenSeparated,
		Roles: each(b.Roles, func(r briefings.Role) api.BriefingRole {
			return api.BriefingRole{Role: r.Role, PersonID: orNull(r.PersonID), Name: r.Name}
		}),
		Visibility:       optionalQuantity(b.Visibility),
		Current:          optionalQuantity(b.Current),
		WaterTemperature: optionalQuantity(b.Temperature),
		Emergency:        orNull(b.Emergency),
		Note:             b.Note,
		People:           each(b.People, briefedView),
		Findings:         findingsIn(b.SessionID, b.Findings),
	}
	if b.Dive != nil {
		out.Dive.Set(briefedDiveView(*b.Dive))
	}
	return out
}

func briefedDiveView(d briefings.Dive) api.BriefedDive {
	out := api.BriefedDive{DiveID: orNull(d.DiveID), Depth: orNull((*api.Quantity)(d.Depth)),
		PlannedTime: orNull((*api.Quantity)(d.PlannedTime)),
		Cylinder:    nullable.NewNullNullable[api.PlanCylinder](), Named: append([]string{}, d.Named...)}
	if d.Cylinder != nil {
		out.Cylinder.Set(planform.CylinderView(*d.Cylinder))
	}
	return out
}

func briefedView(p briefings.Person) api.BriefedPerson {
	out := api.BriefedPerson{
		PersonID:        p.PersonID,
		Name:            p.Name,
		ParticipantID:   orNull(p.ParticipantID),
		GaugeUnit:       string(p.GaugeUnit),
		Newest:          p.Newest,
		BriefedAt:       utc(p.BriefedAt),
		Acknowledgement: nullable.NewNullNullable[api.Acknowledged](),
		Figures:         each(p.Figures, figuresView),
		Knows:           nullable.NewNullNullable[string](),
		Differences:     each(p.Differences, differenceView),
	}
	if a := p.Acknowledged; a != nil {
		out.Acknowledgement.Set(api.Acknowledged{ID: a.ID, BriefingID: a.BriefingID, How: string(a.How),
			WitnessedBy: a.WitnessedBy,
			RecordedBy:  orNull(a.RecordedBy), WitnessedAt: a.WitnessedAt.UTC()})
	}
	if p.Knows != nil {
		out.Knows.Set(p.Knows.Code)
	}
	return out
}

func figuresView(f briefings.Figures) api.BriefedFigures {
	return api.BriefedFigures{DiveID: orNull(f.DiveID), PlanID: orNull(f.PlanID), Start: figureView(f.Start),
		Turn: figureView(f.Turn), Low: figureView(f.Low)}
}

func figureView(f *briefings.Figure) nullable.Nullable[api.BriefedFigure] {
	if f == nil {
		return nullable.NewNullNullable[api.BriefedFigure]()
	}
	out := api.BriefedFigure{Given: quantity(f.Given), Shown: nullable.NewNullNullable[api.ShownReading]()}
	if f.Shown != nil {
		out.Shown.Set(shownView(*f.Shown))
	}
	return nullable.NewNullableWithValue(out)
}

func signViews(all []signal.Sign) []api.Sign {
	return each(all, func(x signal.Sign) api.Sign {
		return api.Sign{Meaning: string(x.Meaning),
			Gesture: string(x.Gesture)}
	})
}
