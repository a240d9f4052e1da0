package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/desk"
	"tankside/internal/people"
)

// paperHandlers serves papers and unfit marks.
type paperHandlers struct {
	desk      *desk.Service
	people    *people.Service
	peopleFor byDryRun[*people.Service]
}

// RecordPaper implements POST /v1/people/{id}/papers.
func (h paperHandlers) RecordPaper(ctx context.Context,
	r api.RecordPaperRequestObject) (api.RecordPaperResponseObject, error) {
	paper, created, err := h.desk.RecordPaper(ctx, callerOf(ctx), people.NewPaper{
		Key:        creation(ctx, r.Body.ID),
		PersonID:   r.ID,
		Kind:       r.Body.Kind,
		Outcome:    given(r.Body.Outcome, "valid"),
		IssuedOn:   r.Body.IssuedOn.Time,
		ValidUntil: optionalDay(r.Body.ValidUntil),
		SeenBy:     r.Body.SeenBy,
		Reference:  optional(r.Body.Reference),
	})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordPaper200JSONResponse{PaperJSONResponse: api.PaperJSONResponse(paperView(paper))}, nil
	}
	return api.RecordPaper201JSONResponse{
		Headers: api.RecordPaper201ResponseHeaders{Location: "/v1/papers/" + paper.ID.String()},
		Body:    paperView(paper),
	}, nil
}

// ListPapers implements GET /v1/people/{id}/papers.
func (h paperHandlers) ListPapers(ctx context.Context,
	r api.ListPapersRequestObject) (api.ListPapersResponseObject, error) {
	list, err := h.people.Papers(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x people.Paper) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListPapers200JSONResponse{PaperListJSONResponse: api.PaperListJSONResponse{
		Headers: api.PaperListResponseHeaders{Link: p.link},
		Body:    api.PaperList{Items: each(p.items, paperView), NextCursor: p.cursor},
	}}, nil
}

// GetPaper implements GET /v1/papers/{id}.
func (h paperHandlers) GetPaper(ctx context.Context,
	r api.GetPaperRequestObject) (api.GetPaperResponseObject, error) {
	paper, err := h.people.Paper(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetPaper200JSONResponse{PaperJSONResponse: api.PaperJSONResponse(paperView(paper))}, nil
}

// VoidPaper implements POST /v1/papers/{id}/void.
func (h paperHandlers) VoidPaper(ctx context.Context,
	r api.VoidPaperRequestObject) (api.VoidPaperResponseObject, error) {
	paper, err := h.desk.VoidPaper(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	if err != nil {
		return nil, err
	}
	return api.VoidPaper200JSONResponse{PaperJSONResponse: api.PaperJSONResponse(paperView(paper))}, nil
}

// RecordUnfitMark implements POST /v1/people/{id}/unfit-marks.
func (h paperHandlers) RecordUnfitMark(ctx context.Context,
	r api.RecordUnfitMarkRequestObject) (api.RecordUnfitMarkResponseObject, error) {
	mark, created, err := h.people.MarkUnfit(ctx, callerOf(ctx), creation(ctx, r.Body.ID), r.ID,
		r.Body.UnfitOn.Time, optional(r.Body.Note))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.RecordUnfitMark200JSONResponse{UnfitMarkJSONResponse: api.UnfitMarkJSONResponse(unfitView(mark))}, nil
	}
	return api.RecordUnfitMark201JSONResponse{
		Headers: api.RecordUnfitMark201ResponseHeaders{Location: "/v1/people/" + mark.PersonID.String() +
			"/unfit-marks"},
		Body: unfitView(mark),
	}, nil
}

// ListUnfitMarks implements GET /v1/people/{id}/unfit-marks.
func (h paperHandlers) ListUnfitMarks(ctx context.Context,
	r api.ListUnfitMarksRequestObject) (api.ListUnfitMarksResponseObject, error) {
	list, err := h.people.UnfitMarks(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x people.UnfitMark) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListUnfitMarks200JSONResponse{UnfitMarkListJSONResponse: api.UnfitMarkListJSONResponse{
		Headers: api.UnfitMarkListResponseHeaders{Link: p.link},
		Body:    api.UnfitMarkList{Items: each(p.items, unfitView), NextCursor: p.cursor},
	}}, nil
}

// LiftUnfitMark implements POST /v1/unfit-marks/{id}/lift.
func (h paperHandlers) LiftUnfitMark(ctx context.Context,
	r api.LiftUnfitMarkRequestObject) (api.LiftUnfitMarkResponseObject, error) {
	mark, err := h.peopleFor(r.Params.DryRun).LiftUnfit(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	if err != nil {
		return nil, err
	}
	return api.LiftUnfitMark200JSONResponse{UnfitMarkDecidedJSONResponse: api.UnfitMarkDecidedJSONResponse{Body: unfitView(mark)}}, nil
}

func paperView(p people.Paper) api.Paper {
	return api.Paper{
		ID:         p.ID,
		PersonID:   p.PersonID,
		Kind:       p.Kind,
		Outcome:    p.Outcome,
		IssuedOn:   date(p.IssuedOn),
		ValidUntil: orNull(optionalDate(p.ValidUntil)),
		SeenBy:     orNull(p.SeenBy),
		SeenByName: orNull(p.SeenByName),
		Reference:  orNull(p.Reference),
		RecordedAt: p.RecordedAt.UTC(),
		RecordedBy: orNull(p.RecordedBy),
		VoidedAt:   utc(p.VoidedAt),
		VoidedBy:   orNull(p.VoidedBy),
		VoidReason: orNull(p.VoidReason),
		Findings:   findings(p.Findings),
	}
}

func unfitView(m people.UnfitMark) api.UnfitMark {
	return api.UnfitMark{
		ID:         m.ID,
		PersonID:   m.PersonID,
		UnfitOn:    date(m.OnDay),
		Note:       orNull(m.Note),
		MarkedBy:   m.MarkedBy,
		MarkedAt:   m.MarkedAt.UTC(),
		LiftedBy:   orNull(m.LiftedBy),
		LiftedAt:   utc(m.LiftedAt),
		LiftReason: orNull(m.LiftReason),
		Findings:   findings(m.Findings),
	}
}
