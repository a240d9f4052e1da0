package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/gasplan"
	"tankside/internal/journal"
	"tankside/internal/planform"
	"tankside/internal/plans"
)

// planHandlers serves gas plans and gas settings.
type planHandlers struct {
	plans    *plans.Service
	plansFor byDryRun[*plans.Service]
	rules    []finding.Rule
}

// CreateGasPlan implements POST /v1/sessions/{id}/plans.
func (h planHandlers) CreateGasPlan(ctx context.Context,
	r api.CreateGasPlanRequestObject) (api.CreateGasPlanResponseObject, error) {
	p, created, err := h.plans.Create(ctx, callerOf(ctx), creation(ctx, r.Body.ID), r.ID,
		planform.Ask(*r.Body))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateGasPlan200JSONResponse{GasPlanJSONResponse: api.GasPlanJSONResponse(gasPlanView(p))}, nil
	}
	return api.CreateGasPlan201JSONResponse{Body: gasPlanView(p),
		Headers: api.CreateGasPlan201ResponseHeaders{Location: "/v1/plans/" + p.ID.String()}}, nil
}

// ReplaceGasPlan implements POST /v1/plans/{id}/replan.
func (h planHandlers) ReplaceGasPlan(ctx context.Context,
	r api.ReplaceGasPlanRequestObject) (api.ReplaceGasPlanResponseObject, error) {
	p, created, err := h.plans.Replan(ctx, callerOf(ctx), creation(ctx, r.Body.ID), r.ID,
		planform.Change(*r.Body))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.ReplaceGasPlan200JSONResponse{GasPlanJSONResponse: api.GasPlanJSONResponse(gasPlanView(p))}, nil
	}
	return api.ReplaceGasPlan201JSONResponse{Body: gasPlanView(p),
		Headers: api.ReplaceGasPlan201ResponseHeaders{Location: "/v1/plans/" + p.ID.String()}}, nil
}

// ConfirmGasPlan implements POST /v1/plans/{id}/confirm.
func (h planHandlers) ConfirmGasPlan(ctx context.Context,
	r api.ConfirmGasPlanRequestObject) (api.ConfirmGasPlanResponseObject, error) {
	var accept *api.Accept
	if r.Body != nil {
		accept = r.Body.Accept
	}
	p, err := h.plansFor(r.Params.DryRun).Confirm(ctx, callerOf(ctx), r.ID, acceptances(accept))
	return api.ConfirmGasPlan200JSONResponse{GasPlanDecidedJSONResponse: api.GasPlanDecidedJSONResponse{Body: gasPlanView(p)}}, err
}

// WithdrawGasPlan implements POST /v1/plans/{id}/withdraw.
func (h planHandlers) WithdrawGasPlan(ctx context.Context,
	r api.WithdrawGasPlanRequestObject) (api.WithdrawGasPlanResponseObject, error) {
	p, err := h.plans.Withdraw(ctx, callerOf(ctx), r.ID, r.Body.Reason)
	return api.WithdrawGasPlan200JSONResponse{GasPlanJSONResponse: api.GasPlanJSONResponse(gasPlanView(p))}, err
}

// GetGasPlan implements GET /v1/plans/{id}.
func (h planHandlers) GetGasPlan(ctx context.Context,
	r api.GetGasPlanRequestObject) (api.GetGasPlanResponseObject, error) {
	p, err := h.plans.Get(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	out := gasPlanView(p)
	if given(r.Params.Worked, false) {
		worked, err := p.Worked()
		if err != nil {
			return nil, err
		}
		out.Plan = planform.View(p.Input, p.Result, worked)
	}
	return api.GetGasPlan200JSONResponse{GasPlanJSONResponse: api.GasPlanJSONResponse(out)}, nil
}

// ListGasPlans implements GET /v1/sessions/{id}/plans.
func (h planHandlers) ListGasPlans(ctx context.Context,
	r api.ListGasPlansRequestObject) (api.ListGasPlansResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, false)
	if err != nil {
		return nil, err
	}
	list, after, err := h.plans.List(ctx, callerOf(ctx), r.ID, p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListGasPlans200JSONResponse{GasPlanListJSONResponse: api.GasPlanListJSONResponse{Headers: api.GasPlanListResponseHeaders{Link: link},
		Body: api.GasPlanList{Items: each(list, gasPlanView), NextCursor: orNull(cur)}}}, nil
}

func gasPlanView(p plans.Plan) api.GasPlan {
	p.Result.Findings = p.Result.Findings.InSession(p.SessionID.String())
	out := api.GasPlan{
		ID:           p.ID,
		SessionID:    p.SessionID,
		DiveID:       orNull(p.DiveID),
		GroupID:      orNull(p.GroupID),
		State:        p.State(),
		Replaces:     orNull(p.Replaces),
		Reason:       orNull(p.Reason),
		PlannedBy:    orNull(p.PlannedBy),
		PlannedAt:    p.PlannedAt.UTC(),
		Plan:         planform.View(p.Input, p.Result, nil),
		Difference:   orNull[api.GasPlanDifference](nil),
		Confirmed:    orNull[api.GasPlanConfirmation](nil),
		SupersededAt: utc(p.SupersededAt),
		Withdrawn:    orNull[api.GasPlanWithdrawal](nil),
		Findings:     findings(p.Shown()),
	}
	if p.WithdrawnAt != nil {
		out.Withdrawn.Set(api.GasPlanWithdrawal{By: orNull(p.WithdrawnBy), At: p.WithdrawnAt.UTC(),
			Reason: *p.WithdrawnFor})
	}
	if d := p.Difference(); d != nil {
		out.Difference.Set(planform.DifferenceView(*d))
	}
	if p.ConfirmedAt != nil {
		out.Confirmed.Set(api.GasPlanConfirmation{By: *p.ConfirmedBy, At: p.ConfirmedAt.UTC(),
			Findings: findings(p.Shown()),
			Accepted: each(p.Accepted, func(a journal.Acceptance) api.AcceptedCaution {
				return api.AcceptedCaution{Rule: a.Rule, SubjectID: a.SubjectID, Reason: a.Reason}
			})})
	}
	return out
}

// GetGasSettings implements GET /v1/gas-settings.
func (h planHandlers) GetGasSettings(ctx context.Context,
	_ api.GetGasSettingsRequestObject) (api.GetGasSettingsResponseObject, error) {
	c, err := h.plans.Settings(ctx, callerOf(ctx))
	return api.GetGasSettings200JSONResponse{GasSettingsJSONResponse: gasSettingsAnswer(c)}, err
}

// ChangeGasSettings implements PATCH /v1/gas-settings.
func (h planHandlers) ChangeGasSettings(ctx context.Context,
	r api.ChangeGasSettingsRequestObject) (api.ChangeGasSettingsResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c, err := h.plans.ChangeSettings(ctx, callerOf(ctx), version, func(c *gasplan.CentreGas) {
		patchNull(&c.Reason, r.Body.Reason)
		planform.PatchQuantity(&c.ConfinedFloor, r.Body.ConfinedFloor)
		if r.Body.Settings != nil {
			planform.PatchSettings(&c.Settings, *r.Body.Settings)
		}
		if x := r.Body.SmallestCylinder; x.IsSpecified() {
			c.SmallestCylinder = nil
			if !x.IsNull() {
				c.SmallestCylinder = new(planform.Cylinder(x.MustGet()))
			}
		}
	})
	return api.ChangeGasSettings200JSONResponse{GasSettingsJSONResponse: gasSettingsAnswer(c)}, err
}

func gasSettingsAnswer(c gasplan.CentreGas) api.GasSettingsJSONResponse {
	return api.GasSettingsJSONResponse{Headers: api.GasSettingsResponseHeaders{ETag: etag(c.Version)},
		Body: api.GasSettings{
			Version:          c.Version,
			Settings:         planform.SettingsView(c.Settings.Or(gasplan.DefaultGasSettings())),
			ConfinedFloor:    quantity(c.Floors().In(true)),
			Set:              c.Set(),
			SmallestCylinder: planform.CylinderView(c.Smallest()),
			Reason:           orNull(c.Reason),
			UpdatedBy:        orNull(c.UpdatedBy),
			UpdatedAt:        utc(c.UpdatedAt),
		}}
}
