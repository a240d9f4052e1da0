package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/actor"
	"tankside/internal/finding"
)

// GetMe implements GET /v1/me.
func (s *server) GetMe(ctx context.Context, _ api.GetMeRequestObject) (api.GetMeResponseObject, error) {
	me, err := s.Access.Me(ctx)
	if err != nil {
		return nil, err
	}
	who := actor.From(ctx)
	may := s.contract.permitted(who)
	return api.GetMe200JSONResponse{
		CentreID:    who.Centre,
		CentreName:  me.CentreName,
		TokenID:     who.Token,
		ExpiresAt:   me.ExpiresAt.UTC(),
		PersonID:    unlessEmpty(who.Person),
		Program:     unlessEmpty(who.Program),
		Roles:       texts(who.Roles),
		Scopes:      texts(who.Scopes),
		Operations:  each(may, func(p api.Permission) string { return p.Operation }),
		Permissions: may,
	}, nil
}

// ListRules implements GET /v1/rules.
func (s *server) ListRules(_ context.Context, _ api.ListRulesRequestObject) (api.ListRulesResponseObject, error) {
	return api.ListRules200JSONResponse{Body: api.RuleList{Items: each(s.Rules, ruleView)}}, nil
}

func ruleView(r finding.Rule) api.Rule {
	return api.Rule{ID: r.ID, Title: r.Title, Text: r.Text, Source: r.Source, Severity: string(r.Severity),
		Messages: each(messagesOf(r.ID), messageView)}
}
