package httpapi

import (
	"context"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/centre"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// bookHandlers serves rule books.
type bookHandlers struct {
	centre *centre.Service
}

// ListRuleBooks implements GET /v1/rule-books.
func (h bookHandlers) ListRuleBooks(ctx context.Context,
	_ api.ListRuleBooksRequestObject) (api.ListRuleBooksResponseObject, error) {
	books, err := h.centre.RuleBooks(ctx, callerOf(ctx))
	if err != nil {
		return nil, err
	}
	return api.ListRuleBooks200JSONResponse{RuleBookListJSONResponse: api.RuleBookListJSONResponse{
		Body: api.RuleBookList{Items: each(books, bookView)}}}, nil
}

func bookView(b centre.AppliedBook) api.RuleBook {
	return api.RuleBook{
		ID:           b.ID,
		Title:        b.Title,
		Kind:         string(b.Kind),
		Jurisdiction: unlessEmpty(b.Jurisdiction),
		Source:       b.Source,
		Status:       string(b.Status),
		Version:      b.Version,
		Applies:      b.Applies,
		Lines:        each(b.Lines, lineView),
	}
}

func lineView(l ratio.Line) api.RuleBookLine {
	out := api.RuleBookLine{
		Title:        l.Title,
		Settings:     texts(l.Settings),
		Levels:       texts(l.Levels),
		AgeFrom:      unlessEmpty(l.AgeFrom),
		AgeTo:        unlessEmpty(l.AgeTo),
		MinAge:       unlessEmpty(l.MinAge),
		OnlyLimits:   l.OnlyLimits,
		Places:       l.Places,
		PerAssistant: l.PerAssistant,
		Cap:          unlessEmpty(l.Cap),
		Young:        nullable.NewNullNullable[api.YoungMix](),
		MaxDepth:     nullable.NewNullNullable[api.DepthInMetres](),
		Conditions:   each(l.Conditions, conditionView),
	}
	if l.Young != nil {
		out.Young.Set(api.YoungMix{Below: l.Young.Below, PerHead: l.Young.PerHead,
			OthersFrom: l.Young.OthersFrom})
	}
	if l.MaxDepth > 0 {
		out.MaxDepth.Set(quantity(units.Read(l.MaxDepth.In(units.UnitMetre), units.UnitMetre)))
	}
	return out
}

func conditionView(c ratio.Condition) api.RuleBookCondition {
	return api.RuleBookCondition{Text: c.Text, Cause: unlessEmpty(string(c.Cause)),
		Beyond: optionalQuantity(&c.Beyond), Fewer: c.Fewer}
}

// ownBook reads a centre's own rule book; nil for none.
func ownBook(n nullable.Nullable[api.OwnRuleBook]) *ratio.Book {
	b := optional(n)
	if b == nil {
		return nil
	}
	return &ratio.Book{Title: b.Title, Source: b.Source, Lines: each(b.Lines, ownLine)}
}

func ownLine(l api.OwnRuleBookLine) ratio.Line {
	out := ratio.Line{
		Title:        l.Title,
		Settings:     each(l.Settings, func(s string) ratio.Setting { return ratio.Setting(s) }),
		Levels:       each(l.Levels, func(s string) ratio.Level { return ratio.Level(s) }),
		AgeFrom:      given(optional(l.AgeFrom), 0),
		AgeTo:        given(optional(l.AgeTo), 0),
		MinAge:       given(optional(l.MinAge), 0),
		OnlyLimits:   given(l.OnlyLimits, false),
		Places:       l.Places,
		PerAssistant: given(l.PerAssistant, 0),
		Cap:          given(optional(l.Cap), 0),
		Conditions:   each(given(l.Conditions, nil), ownCondition),
	}
	if m := optional(l.Young); m != nil {
		out.Young = &ratio.Mix{Below: m.Below, PerHead: m.PerHead, OthersFrom: m.OthersFrom}
	}
	if d := optional(l.MaxDepth); d != nil {
		out.MaxDepth = reading(*d).Depth()
	}
	return out
}

func ownCondition(c api.OwnRuleBookCondition) ratio.Condition {
	out := ratio.Condition{Text: c.Text, Cause: ratio.Cause(given(optional(c.Cause), "")),
		Fewer: given(c.Fewer, 0)}
	if q := optional(c.Beyond); q != nil {
		out.Beyond = reading(*q)
	}
	return out
}
