package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/httpapi/gate"
)

// GetMe implements GET /v1/me.
func (s *server) GetMe(ctx context.Context, _ api.GetMeRequestObject) (api.GetMeResponseObject, error) {
	me, err := s.Access.Me(ctx, callerOf(ctx))
	if err != nil {
		return nil, err
	}
	by := callerOf(ctx)
	may := gate.Permitted(s.contract, by)
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
func (s *server) ListRules(_ context.Context, _ api.ListRulesRequestObject) (api.ListRulesResponseObject,
	error) {
	return api.ListRules200JSONResponse{Body: api.RuleList{Items: each(s.Rules, ruleView)}}, nil
}

func ruleView(r finding.Rule) api.Rule {
	return api.Rule{ID: r.ID, Title: r.Title, Text: r.Text, Source: r.Source, Severity: string(r.Severity),
		Messages: each(messagesOf(r.ID), messageView)}
}
