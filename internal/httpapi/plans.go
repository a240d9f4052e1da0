package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/gasplan"
	"tankside/internal/planform"
)

// CalculateGasPlan implements POST /v1/plans/calculate.
func (h planHandlers) CalculateGasPlan(ctx context.Context,
	r api.CalculateGasPlanRequestObject) (api.CalculateGasPlanResponseObject, error) {
	in, plan, err := h.plans.Draft(ctx, callerOf(ctx), planform.Input(*r.Body))
	if err != nil {
		return nil, err
	}
	var worked []gasplan.WorkedSteps
	if given(r.Params.Worked, false) {
		if worked, err = gasplan.Explain(in); err != nil {
			return nil, err
		}
	}
	return api.CalculateGasPlan200JSONResponse{CalculatedPlanJSONResponse: api.CalculatedPlanJSONResponse(planform.View(in, plan, worked))}, nil
}
