package httpapi

import (
	"context"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/assessment"
	"tankside/internal/desk"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/offline"
)

// signOffHandlers serves sign-offs and completions.
type signOffHandlers struct {
	assessment    *assessment.Service
	assessmentFor byDryRun[*assessment.Service]
	desk          *desk.Service
	deskFor       byDryRun[*desk.Service]
	offlineFor    byDryRun[*offline.Service]
}

// CreateSignOffs implements POST /v1/sessions/{id}/sign-offs.
func (h signOffHandlers) CreateSignOffs(ctx context.Context,
	r api.CreateSignOffsRequestObject) (api.CreateSignOffsResponseObject, error) {
	var out []journal.Result
	err := h.offlineFor(r.Params.DryRun).AtGate(ctx, callerOf(ctx),
		r.ID, func(ctx context.Context) (err error) {
			out, err = h.assessmentFor(r.Params.DryRun).SignOff(ctx, callerOf(ctx),
				r.ID, each(r.Body.Items, signing))
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

func signing(w api.SignOffAdd) assessment.Signing {
	return assessment.Signing{ID: w.ID, EnrolmentID: w.EnrolmentID, Skill: w.Skill, DiveID: w.DiveID,
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
func (h signOffHandlers) ListSessionSignOffs(ctx context.Context,
	r api.ListSessionSignOffsRequestObject) (api.ListSessionSignOffsResponseObject, error) {
	list, err := h.assessment.SessionSignOffs(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	page, err := signOffList(ctx, r.Params.Limit, r.Params.Cursor, list)
	return api.ListSessionSignOffs200JSONResponse{SignOffListJSONResponse: page}, err
}

// ListSignOffs implements GET /v1/enrolments/{id}/sign-offs.
func (h signOffHandlers) ListSignOffs(ctx context.Context,
	r api.ListSignOffsRequestObject) (api.ListSignOffsResponseObject, error) {
	list, err := h.assessment.SignOffs(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	page, err := signOffList(ctx, r.Params.Limit, r.Params.Cursor, list)
	return api.ListSignOffs200JSONResponse{SignOffListJSONResponse: page}, err
}

func signOffList(ctx context.Context, limit *api.Limit, cursor *api.Cursor,
	list []assessment.SignedOff) (api.SignOffListJSONResponse, error) {
	p, err := pageOf(ctx, limit, cursor, list, func(o assessment.SignedOff) string { return o.ID.String() })
	return api.SignOffListJSONResponse{
		Headers: api.SignOffListResponseHeaders{Link: p.link},
		Body: api.SignOffList{
			Items:      each(p.items, func(o assessment.SignedOff) api.SignOff { return signOffView(o, nil) }),
			NextCursor: p.cursor,
		},
	}, err
}

// GetSignOff implements GET /v1/sign-offs/{id}.
func (h signOffHandlers) GetSignOff(ctx context.Context,
	r api.GetSignOffRequestObject) (api.GetSignOffResponseObject, error) {
	o, err := h.assessment.SignOffOf(ctx, callerOf(ctx), r.ID)
	return api.GetSignOff200JSONResponse{SignOffJSONResponse: api.SignOffJSONResponse(signOffView(o, nil))}, err
}

// VoidSignOff implements POST /v1/sign-offs/{id}/void.
func (h signOffHandlers) VoidSignOff(ctx context.Context,
	r api.VoidSignOffRequestObject) (api.VoidSignOffResponseObject, error) {
	o, found, err := h.assessmentFor(r.Params.DryRun).VoidSignOff(ctx, callerOf(ctx),
		r.ID, r.Body.Reason)
	return api.VoidSignOff200JSONResponse{SignOffDecidedJSONResponse: api.SignOffDecidedJSONResponse{Body: signOffView(o, found)}}, err
}

// signOffView writes a sign-off with what was found when it was made, or now.
func signOffView(o assessment.SignedOff, found finding.List) api.SignOff {
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
func (h signOffHandlers) CreateCompletion(ctx context.Context,
	r api.CreateCompletionRequestObject) (api.CreateCompletionResponseObject, error) {
	body := given(r.Body, api.CompletionAdd{})
	var c assessment.Completion
	var found finding.List
	var created bool
	key := creation(ctx, body.ID)
	err := h.offlineFor(r.Params.DryRun).AtCompletion(ctx, callerOf(ctx),
		r.ID, func(ctx context.Context) (err error) {
			c, found, created, err = h.deskFor(r.Params.DryRun).Complete(ctx, callerOf(ctx),
				r.ID, key, acceptances(body.Accept))
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
func (h signOffHandlers) ListCompletions(ctx context.Context,
	r api.ListCompletionsRequestObject) (api.ListCompletionsResponseObject, error) {
	list, err := h.assessment.Completions(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x assessment.Completion) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListCompletions200JSONResponse{CompletionListJSONResponse: api.CompletionListJSONResponse{
		Headers: api.CompletionListResponseHeaders{Link: p.link},
		Body: api.CompletionList{Items: each(p.items,
			func(c assessment.Completion) api.Completion {
				return completionView(c,
					nil)
			}), NextCursor: p.cursor},
	}}, nil
}

// VoidCompletion implements POST /v1/completions/{id}/void.
func (h signOffHandlers) VoidCompletion(ctx context.Context,
	r api.VoidCompletionRequestObject) (api.VoidCompletionResponseObject, error) {
	c, err := h.desk.VoidCompletion(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.VoidCompletion200JSONResponse{CompletionJSONResponse: api.CompletionJSONResponse(completionView(c, nil))}, err
}

func completionView(c assessment.Completion, found finding.List) api.Completion {
	if found == nil {
		found = c.Findings
	}
	return api.Completion{ID: c.ID, EnrolmentID: c.EnrolmentID, Round: c.Round, SignedBy: c.SignedBy,
		SignedByName: c.SignedName, SignedAt: c.SignedAt.UTC(),
		RestsOn: append([]uuid.UUID{},
			c.RestsOn...), VoidedAt: utc(c.VoidedAt), VoidedBy: orNull(c.VoidedBy), VoidReason: orNull(c.VoidReason), Findings: findings(found)}
}
