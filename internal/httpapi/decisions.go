package httpapi

import (
	"context"

	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/review"
)

// decisionHandlers serves kept decisions.
type decisionHandlers struct {
	review *review.Service
}

// ListDecisions implements GET /v1/decisions.
func (h decisionHandlers) ListDecisions(ctx context.Context,
	r api.ListDecisionsRequestObject) (api.ListDecisionsResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, descending(r.Params.Sort))
	if err != nil {
		return nil, err
	}
	about := finding.Subject{Type: r.Params.SubjectType, ID: r.Params.SubjectID.String()}
	list, after, err := h.review.Decisions(ctx, callerOf(ctx), about, p)
	if err != nil {
		return nil, err
	}
	cursor, link := next(ctx, after)
	return api.ListDecisions200JSONResponse{DecisionListJSONResponse: api.DecisionListJSONResponse{
		Headers: api.DecisionListResponseHeaders{Link: link},
		Body:    api.DecisionList{Items: each(list, madeDecisionView), NextCursor: orNull(cursor)},
	}}, nil
}

// GetDecision implements GET /v1/decisions/{id}.
func (h decisionHandlers) GetDecision(ctx context.Context,
	r api.GetDecisionRequestObject) (api.GetDecisionResponseObject, error) {
	d, err := h.review.Explain(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	return api.GetDecision200JSONResponse{ExplainedDecisionJSONResponse: api.ExplainedDecisionJSONResponse{
		Body: explainedDecisionView(d)}}, nil
}

func madeDecisionView(d journal.Decided) api.MadeDecision {
	return api.MadeDecision{ID: d.ID, Kind: d.Kind,
		Subject:   api.Subject{Type: d.SubjectType, ID: d.SubjectID.String()},
		DecidedAt: d.DecidedAt.UTC(), DecidedBy: orNull(d.PersonID), DecidedByName: orNull(d.PersonName),
		Findings: findings(d.Findings)}
}

func explainedDecisionView(d review.Explained) api.ExplainedDecision {
	made := madeDecisionView(d.Decided)
	var withheld *[]string
	if d.Withheld != nil {
		withheld = &d.Withheld
	}
	return api.ExplainedDecision{ID: made.ID, Kind: made.Kind, Subject: made.Subject,
		DecidedAt: made.DecidedAt, DecidedBy: made.DecidedBy, DecidedByName: made.DecidedByName,
		Findings: made.Findings, JudgedOn: orNull(d.On), Withheld: withheld,
		Names: each(d.Names, func(n finding.Named) api.NamedThing {
			return api.NamedThing{Type: n.Type, ID: n.ID, Name: n.Name}
		})}
}
