package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/access"
	"tankside/internal/actor"
)

// tokenHandlers serves tokens.
type tokenHandlers struct {
	access *access.Service
}

// CreateToken implements POST /v1/tokens.
func (h tokenHandlers) CreateToken(ctx context.Context,
	r api.CreateTokenRequestObject) (api.CreateTokenResponseObject, error) {
	issued, created, err := h.access.IssueToken(ctx, callerOf(ctx), access.NewToken{
		Key:       creation(ctx, r.Body.ID),
		PersonID:  r.Body.PersonID,
		Program:   r.Body.Program,
		Label:     given(r.Body.Label, ""),
		Scopes:    each(r.Body.Scopes, func(s string) actor.Scope { return actor.Scope(s) }),
		ExpiresAt: r.Body.ExpiresAt,
	})
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateToken200JSONResponse{TokenJSONResponse: api.TokenJSONResponse(tokenView(issued.Token))}, nil
	}
	return api.CreateToken201JSONResponse{
		Headers: api.CreateToken201ResponseHeaders{Location: "/v1/tokens/" + issued.ID.String()},
		Body:    api.TokenIssued{Token: tokenView(issued.Token), Secret: issued.Secret},
	}, nil
}

// ListTokens implements GET /v1/tokens.
func (h tokenHandlers) ListTokens(ctx context.Context,
	r api.ListTokensRequestObject) (api.ListTokensResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, true)
	if err != nil {
		return nil, err
	}
	tokens, after, err := h.access.Tokens(ctx, callerOf(ctx), given(r.Params.PersonID, nil), p)
	if err != nil {
		return nil, err
	}
	cursor, link := next(ctx, after)
	return api.ListTokens200JSONResponse{
		Headers: api.ListTokens200ResponseHeaders{Link: link},
		Body:    api.TokenList{Items: each(tokens, tokenView), NextCursor: orNull(cursor)},
	}, nil
}

// GetToken implements GET /v1/tokens/{id}.
func (h tokenHandlers) GetToken(ctx context.Context,
	r api.GetTokenRequestObject) (api.GetTokenResponseObject, error) {
	token, err := h.access.Token(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetToken200JSONResponse{TokenJSONResponse: api.TokenJSONResponse(tokenView(token))}, nil
}

// RevokeToken implements POST /v1/tokens/{id}/revoke.
func (h tokenHandlers) RevokeToken(ctx context.Context,
	r api.RevokeTokenRequestObject) (api.RevokeTokenResponseObject, error) {
	token, err := h.access.RevokeToken(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.RevokeToken200JSONResponse{TokenJSONResponse: api.TokenJSONResponse(tokenView(token))}, nil
}

func tokenView(t access.Token) api.Token {
	return api.Token{
		ID:       t.ID,
		PersonID: orNull(t.PersonID),
		Program:  orNull(t.Program),
		Label:    t.Label,
		Scopes:   texts(t.Scopes),
		IssuedBy: orNull(t.IssuedBy),

		IssuedByOperator: t.IssuedBy == nil,
		IssuedAt:         t.IssuedAt.UTC(),
		ExpiresAt:        t.ExpiresAt.UTC(),
		RevokedAt:        utc(t.RevokedAt),
	}
}
