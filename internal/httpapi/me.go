package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/access"
	"tankside/internal/finding"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/gate"
)

// meHandlers serves the caller and the rules.
type meHandlers struct {
	access   *access.Service
	rules    []finding.Rule
	contract *contract.Contract
}

// GetMe implements GET /v1/me.
func (h meHandlers) GetMe(ctx context.Context, _ api.GetMeRequestObject) (api.GetMeResponseObject, error) {
	me, err := h.access.Me(ctx, callerOf(ctx))
	if err != nil {
		return nil, err
	}
	by := callerOf(ctx)
	may := gate.Permitted(h.contract, by)
	return api.GetMe200JSONResponse{
		CentreID:    by.Centre,
		CentreName:  me.CentreName,
		TokenID:     by.Token,
		ExpiresAt:   me.ExpiresAt.UTC(),
		PersonID:    unlessEmpty(by.Person),
		Program:     unlessEmpty(by.Program),
		Roles:       texts(by.Roles),
		Scopes:      texts(by.Scopes),
		Operations:  each(may, func(p api.Permission) string { return p.Operation }),
		Permissions: may,
	}, nil
}

// ListRules implements GET /v1/rules.
func (h meHandlers) ListRules(_ context.Context,
	_ api.ListRulesRequestObject) (api.ListRulesResponseObject, error) {
	return api.ListRules200JSONResponse{Body: api.RuleList{Items: each(h.rules, ruleView)}}, nil
}

func ruleView(r finding.Rule) api.Rule {
	return api.Rule{ID: r.ID, Title: r.Title, Text: r.Text, Source: r.Source, Severity: string(r.Severity),
		Messages: each(messagesOf(r.ID), messageView)}
}
