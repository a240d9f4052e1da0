package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/briefings"
	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// conventionHandlers serves conventions of signals.
type conventionHandlers struct {
	briefings    *briefings.Service
	briefingsFor byDryRun[*briefings.Service]
}

// ListConventions implements GET /v1/conventions.
func (h conventionHandlers) ListConventions(ctx context.Context,
	r api.ListConventionsRequestObject) (api.ListConventionsResponseObject, error) {
	list, err := h.briefings.Conventions(ctx, callerOf(ctx))
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x briefings.Convention) string { return x.Code })
	if err != nil {
		return nil, err
	}
	return api.ListConventions200JSONResponse{ConventionListJSONResponse: api.ConventionListJSONResponse{
		Headers: api.ConventionListResponseHeaders{Link: p.link},
		Body: api.ConventionList{Items: each(p.items,
			func(c briefings.Convention) api.Convention {
				return conventionView(c,
					nil)
			}), NextCursor: p.cursor},
	}}, nil
}

// CreateConvention implements POST /v1/conventions.
func (h conventionHandlers) CreateConvention(ctx context.Context,
	r api.CreateConventionRequestObject) (api.CreateConventionResponseObject, error) {
	b := r.Body
	c, found, created, err := h.briefingsFor(r.Params.DryRun).CreateConvention(ctx, callerOf(ctx),
		creation(ctx, b.ID),
		signal.Convention{Code: b.Code, Name: b.Name, Note: given(b.Note, ""),
			Unit: units.Unit(b.Unit), Hands: signal.Hands(b.Hands), Style: signal.Style(b.Style),
			Ten:    signal.Gesture(given(b.Ten, "")),
			Region: signal.Region(given(b.Region, "")), Signs: signs(b.Signs)}, acceptances(b.Accept))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateConvention200JSONResponse{ConventionDecidedJSONResponse: conventionDecided(c,
			found)}, nil
	}
	return api.CreateConvention201JSONResponse{Body: conventionView(c, found),
		Headers: api.CreateConvention201ResponseHeaders{ETag: etag(c.Version), Location: "/v1/conventions/" +
			c.Code}}, nil
}

// ExamineConvention implements POST /v1/conventions/examine.
func (h conventionHandlers) ExamineConvention(_ context.Context,
	r api.ExamineConventionRequestObject) (api.ExamineConventionResponseObject, error) {
	c := conventionDraft(*r.Body)
	return api.ExamineConvention200JSONResponse{ExaminedJSONResponse: api.ExaminedJSONResponse{
		Findings: findings(briefings.CheckConvention(c)), Shows: each(briefings.Samples(c), shownView)}}, nil
}

// conventionDraft reads a convention that a request gives whole.
func conventionDraft(b api.ConventionDraft) signal.Convention {
	return signal.Convention{Code: b.Code, Name: b.Name, Note: given(b.Note, ""), Unit: units.Unit(b.Unit),
		Hands: signal.Hands(b.Hands),
		Style: signal.Style(b.Style), Ten: signal.Gesture(given(b.Ten,
			"")), Region: signal.Region(given(b.Region, "")), Signs: signs(b.Signs)}
}

// GetConvention implements GET /v1/conventions/{code}.
func (h conventionHandlers) GetConvention(ctx context.Context,
	r api.GetConventionRequestObject) (api.GetConventionResponseObject, error) {
	c, err := h.briefings.Convention(ctx, callerOf(ctx), r.Code)
	if err != nil {
		return nil, err
	}
	return api.GetConvention200JSONResponse{ConventionJSONResponse: api.ConventionJSONResponse{
		Headers: api.ConventionResponseHeaders{ETag: etag(c.Version)}, Body: conventionView(c, nil)}}, nil
}

// ChangeConvention implements PATCH /v1/conventions/{code}.
func (h conventionHandlers) ChangeConvention(ctx context.Context,
	r api.ChangeConventionRequestObject) (api.ChangeConventionResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c, found, err := h.briefingsFor(r.Params.DryRun).ChangeConvention(ctx, callerOf(ctx),
		r.Code, version,
		func(c *signal.Convention) { editConvention(c, *r.Body) }, acceptances(r.Body.Accept))
	if err != nil {
		return nil, err
	}
	return api.ChangeConvention200JSONResponse{ConventionDecidedJSONResponse: conventionDecided(c, found)}, nil
}

func editConvention(c *signal.Convention, b api.ConventionPatch) {
	patch(&c.Name, b.Name)
	patch(&c.Note, b.Note)
	if b.Unit != nil {
		c.Unit = units.Unit(*b.Unit)
	}
	if b.Hands != nil {
		c.Hands = signal.Hands(*b.Hands)
	}
	if b.Style != nil {
		c.Style = signal.Style(*b.Style)
	}
	if b.Ten.IsSpecified() {
		c.Ten = signal.Gesture(given(optional(b.Ten), ""))
	}
	if b.Region.IsSpecified() {
		c.Region = signal.Region(given(optional(b.Region), ""))
	}
	if b.Signs != nil {
		c.Signs = signs(*b.Signs)
	}
}

// EncodeReading implements POST /v1/conventions/{code}/encode.
func (h conventionHandlers) EncodeReading(ctx context.Context,
	r api.EncodeReadingRequestObject) (api.EncodeReadingResponseObject, error) {
	shown, err := h.briefings.Encode(ctx, callerOf(ctx), r.Code, reading(r.Body.Reading),
		units.Unit(given(r.Body.GaugeUnit, "")), given(r.Body.Round, "") == "up")
	if err != nil {
		return nil, err
	}
	return api.EncodeReading200JSONResponse{ShownReadingJSONResponse: api.ShownReadingJSONResponse(shownView(shown))}, nil
}

// DecodeGestures implements POST /v1/conventions/{code}/decode.
func (h conventionHandlers) DecodeGestures(ctx context.Context,
	r api.DecodeGesturesRequestObject) (api.DecodeGesturesResponseObject, error) {
	seq := signal.Sequence(each(r.Body.Gestures, func(g string) signal.Gesture { return signal.Gesture(g) }))
	said, found, err := h.briefings.Decode(ctx, callerOf(ctx), r.Code, seq,
		units.Unit(given(r.Body.GaugeUnit, "")))
	if err != nil {
		return nil, err
	}
	return api.DecodeGestures200JSONResponse{ReadGesturesJSONResponse: api.ReadGesturesJSONResponse{Findings: findings(found),
		Said: each(said, func(x signal.Interpretation) api.SaidByGestures {
			return api.SaidByGestures{Reading: optionalQuantity(x.Reading),
				Meaning: unlessEmpty(string(x.Meaning)), Text: x.String()}
		})}}, nil
}

// CompareConventions implements GET /v1/conventions/{code}/differences.
func (h conventionHandlers) CompareConventions(ctx context.Context,
	r api.CompareConventionsRequestObject) (api.CompareConventionsResponseObject, error) {
	differences, err := h.briefings.Differences(ctx, callerOf(ctx), r.Code, r.Params.Known)
	if err != nil {
		return nil, err
	}
	return api.CompareConventions200JSONResponse{DifferenceListJSONResponse: api.DifferenceListJSONResponse{
		Body: api.DifferenceList{Items: each(differences, differenceView)}}}, nil
}

func differenceView(d signal.Difference) api.ConventionDifference {
	return api.ConventionDifference{What: d.What, Here: d.Here, There: d.There}
}

func signs(agreed []api.SignAgreed) []signal.Sign {
	return each(agreed, func(x api.SignAgreed) signal.Sign {
		return signal.Sign{Meaning: signal.Meaning(x.Meaning), Gesture: signal.Gesture(x.Gesture)}
	})
}

func conventionDecided(c briefings.Convention, found finding.List) api.ConventionDecidedJSONResponse {
	return api.ConventionDecidedJSONResponse{Headers: api.ConventionDecidedResponseHeaders{ETag: new(etag(c.Version))}, Body: conventionView(c, found)}
}

// conventionView writes a convention with what was found, nil for what speaks
// against it now.
func conventionView(c briefings.Convention, found finding.List) api.Convention {
	if found == nil {
		found = briefings.CheckConvention(c.Convention)
	}
	return api.Convention{
		Code:      c.Code,
		Own:       c.Own(),
		ID:        unlessEmpty(c.ID),
		Version:   c.Version,
		Name:      c.Name,
		Note:      c.Note,
		Unit:      string(c.Unit),
		Hands:     int(c.Hands),
		Style:     string(c.Style),
		Ten:       unlessEmpty(string(c.Ten)),
		Region:    unlessEmpty(string(c.Region)),
		Signs:     signViews(c.Signs),
		CreatedAt: utc(c.CreatedAt),
		UpdatedAt: utc(c.UpdatedAt),
		Findings:  findings(found),
	}
}

// shownView writes a reading as it is put on the hands.
func shownView(x briefings.Shown) api.ShownReading {
	return api.ShownReading{Reading: quantity(x.Reading), Gestures: texts(x.Gestures),
		Text: x.Gestures.String(), Strip: stripOf(x.Convention, x.Reading)}
}
