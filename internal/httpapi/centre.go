package httpapi

import (
	"context"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/centre"
	"tankside/internal/desk"
	"tankside/internal/finding"
)

// centreHandlers serves the centre and its clock.
type centreHandlers struct {
	centre *centre.Service
	desk   *desk.Service
}

// GetCentre implements GET /v1/centre.
func (h centreHandlers) GetCentre(ctx context.Context,
	_ api.GetCentreRequestObject) (api.GetCentreResponseObject, error) {
	centre, err := h.centre.Centre(ctx, callerOf(ctx))
	if err != nil {
		return nil, err
	}
	return api.GetCentre200JSONResponse{CentreJSONResponse: centreAnswer(centre, nil)}, nil
}

// ChangeCentre implements PATCH /v1/centre.
func (h centreHandlers) ChangeCentre(ctx context.Context,
	r api.ChangeCentreRequestObject) (api.ChangeCentreResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	centre, found, err := h.desk.ChangeCentre(ctx, callerOf(ctx), version, func(c *centre.Settings) {
		patch(&c.Name, r.Body.Name)
		patch(&c.TimeZone, r.Body.TimeZone)
		patch(&c.GaugeUnit, r.Body.GaugeUnit)
		patch(&c.AgeOfMajority, r.Body.AgeOfMajority)
		patch(&c.RuleBooks, r.Body.RuleBooks)
		if r.Body.OwnRuleBook.IsSpecified() {
			c.OwnBook = ownBook(r.Body.OwnRuleBook)
		}
		patch(&c.CrewPapers, r.Body.CrewPapers)
		patch(&c.StudentPapers, r.Body.StudentPapers)
		patch(&c.MedicalMonths, r.Body.MedicalMonths)
	})
	if err != nil {
		return nil, err
	}
	return api.ChangeCentre200JSONResponse{CentreJSONResponse: centreAnswer(centre, found)}, nil
}

// SetClock implements POST /v1/centre/set-clock.
func (h centreHandlers) SetClock(ctx context.Context,
	r api.SetClockRequestObject) (api.SetClockResponseObject, error) {
	centre, err := h.centre.SetClock(ctx, callerOf(ctx), r.Body.NowAt)
	if err != nil {
		return nil, err
	}
	return api.SetClock200JSONResponse{CentreJSONResponse: centreAnswer(centre, nil)}, nil
}

func centreAnswer(c centre.Centre, found finding.List) api.CentreJSONResponse {
	own := nullable.NewNullNullable[api.RuleBook]()
	if c.OwnBook != nil {
		own.Set(bookView(centre.AppliedBook{Book: *c.OwnBook, Applies: true}))
	}
	return api.CentreJSONResponse{
		Headers: api.CentreResponseHeaders{ETag: etag(c.Version)},
		Body: api.Centre{
			ID:            c.ID,
			Version:       c.Version,
			Name:          c.Name,
			TimeZone:      c.TimeZone,
			GaugeUnit:     c.GaugeUnit,
			AgeOfMajority: c.AgeOfMajority,
			RuleBooks:     texts(c.RuleBooks),
			OwnRuleBook:   own,
			CrewPapers:    texts(c.CrewPapers),
			StudentPapers: texts(c.StudentPapers),
			MedicalMonths: c.MedicalMonths,
			Demo:          c.Demo,
			NowAt:         c.Now.UTC(),
			CreatedAt:     c.CreatedAt.UTC(),
			UpdatedAt:     c.UpdatedAt.UTC(),
			Findings:      findings(found),
		},
	}
}
