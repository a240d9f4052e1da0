package httpapi

import (
	"context"
	"strconv"

	"github.com/oapi-codegen/nullable"

	"tankside/api"
	"tankside/internal/courses"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// syllabusHandlers serves syllabuses.
type syllabusHandlers struct {
	courses *courses.Service
}

// ListBuiltInSyllabuses implements GET /v1/built-in-syllabuses.
func (h syllabusHandlers) ListBuiltInSyllabuses(context.Context,
	api.ListBuiltInSyllabusesRequestObject) (api.ListBuiltInSyllabusesResponseObject, error) {
	return api.ListBuiltInSyllabuses200JSONResponse{SyllabusContentListJSONResponse: api.SyllabusContentListJSONResponse{
		Body: api.SyllabusContentList{Items: each(courses.BuiltIns(), contentView)}}}, nil
}

// ListSyllabuses implements GET /v1/syllabuses.
func (h syllabusHandlers) ListSyllabuses(ctx context.Context,
	r api.ListSyllabusesRequestObject) (api.ListSyllabusesResponseObject, error) {
	p, err := paged(ctx, r.Params.Limit, r.Params.Cursor, descending(r.Params.Sort))
	if err != nil {
		return nil, err
	}
	list, after, err := h.courses.Syllabuses(ctx, callerOf(ctx), p)
	if err != nil {
		return nil, err
	}
	cur, link := next(ctx, after)
	return api.ListSyllabuses200JSONResponse{SyllabusListJSONResponse: api.SyllabusListJSONResponse{Headers: api.SyllabusListResponseHeaders{Link: link},
		Body: api.SyllabusList{Items: each(list, syllabusView), NextCursor: orNull(cur)}}}, nil
}

// CreateSyllabus implements POST /v1/syllabuses.
func (h syllabusHandlers) CreateSyllabus(ctx context.Context,
	r api.CreateSyllabusRequestObject) (api.CreateSyllabusResponseObject, error) {
	b := r.Body
	n := courses.NewSyllabus{Key: creation(ctx, b.ID), Title: b.Title, BuiltIn: given(b.BuiltIn, ""),
		CopyOf: b.CopyOf}
	if b.Content != nil {
		n.Content = new(content(*b.Content))
	}
	y, created, err := h.courses.CreateSyllabus(ctx, callerOf(ctx), n)
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateSyllabus200JSONResponse{SyllabusJSONResponse: syllabusAnswer(y)}, nil
	}
	return api.CreateSyllabus201JSONResponse{Body: syllabusView(y),
		Headers: api.CreateSyllabus201ResponseHeaders{ETag: etag(y.Version), Location: "/v1/syllabuses/" +
			y.ID.String()}}, nil
}

// GetSyllabus implements GET /v1/syllabuses/{id}.
func (h syllabusHandlers) GetSyllabus(ctx context.Context,
	r api.GetSyllabusRequestObject) (api.GetSyllabusResponseObject, error) {
	y, err := h.courses.Syllabus(ctx, callerOf(ctx), r.ID)
	return api.GetSyllabus200JSONResponse{SyllabusJSONResponse: syllabusAnswer(y)}, err
}

// RenameSyllabus implements PATCH /v1/syllabuses/{id}.
func (h syllabusHandlers) RenameSyllabus(ctx context.Context,
	r api.RenameSyllabusRequestObject) (api.RenameSyllabusResponseObject, error) {
	version, err := ifMatch(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	y, err := h.courses.RenameSyllabus(ctx, callerOf(ctx), r.ID, version,
		func(title *string) { *title = r.Body.Title })
	return api.RenameSyllabus200JSONResponse{SyllabusJSONResponse: syllabusAnswer(y)}, err
}

func syllabusAnswer(y courses.Syllabus) api.SyllabusJSONResponse {
	return api.SyllabusJSONResponse{Headers: api.SyllabusResponseHeaders{ETag: etag(y.Version)},
		Body: syllabusView(y)}
}

func syllabusView(y courses.Syllabus) api.Syllabus {
	return api.Syllabus{ID: y.ID, Version: y.Version, Title: y.Title, CopiedFrom: orNull(y.CopiedFrom),
		Newest: y.Newest, CreatedAt: y.CreatedAt.UTC(), UpdatedAt: y.UpdatedAt.UTC()}
}

// ListSyllabusVersions implements GET /v1/syllabuses/{id}/versions.
func (h syllabusHandlers) ListSyllabusVersions(ctx context.Context,
	r api.ListSyllabusVersionsRequestObject) (api.ListSyllabusVersionsResponseObject, error) {
	list, err := h.courses.SyllabusVersions(ctx, callerOf(ctx), r.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, r.Params.Limit, r.Params.Cursor, list,
		func(x courses.SyllabusVersion) string { return x.ID.String() })
	if err != nil {
		return nil, err
	}
	return api.ListSyllabusVersions200JSONResponse{SyllabusVersionListJSONResponse: api.SyllabusVersionListJSONResponse{
		Headers: api.SyllabusVersionListResponseHeaders{Link: p.link},
		Body:    api.SyllabusVersionList{Items: each(p.items, versionView), NextCursor: p.cursor},
	}}, nil
}

// CreateSyllabusVersion implements POST /v1/syllabuses/{id}/versions.
func (h syllabusHandlers) CreateSyllabusVersion(ctx context.Context,
	r api.CreateSyllabusVersionRequestObject) (api.CreateSyllabusVersionResponseObject, error) {
	v, _, created, err := h.courses.AddSyllabusVersion(ctx, callerOf(ctx), r.ID, content(r.Body.Content),
		r.Body.Note, creation(ctx, r.Body.ID))
	switch {
	case err != nil:
		return nil, err
	case !created:
		return api.CreateSyllabusVersion200JSONResponse{SyllabusVersionJSONResponse: api.SyllabusVersionJSONResponse(versionView(v))}, nil
	}
	return api.CreateSyllabusVersion201JSONResponse{Body: versionView(v),
		Headers: api.CreateSyllabusVersion201ResponseHeaders{
			Location: "/v1/syllabuses/" + v.SyllabusID.String() + "/versions/" + strconv.Itoa(v.Number)}}, nil
}

// GetSyllabusVersion implements GET /v1/syllabuses/{id}/versions/{number}.
func (h syllabusHandlers) GetSyllabusVersion(ctx context.Context,
	r api.GetSyllabusVersionRequestObject) (api.GetSyllabusVersionResponseObject, error) {
	v, err := h.courses.SyllabusVersion(ctx, callerOf(ctx), r.ID, r.Number)
	return api.GetSyllabusVersion200JSONResponse{SyllabusVersionJSONResponse: api.SyllabusVersionJSONResponse(versionView(v))}, err
}

func versionView(v courses.SyllabusVersion) api.SyllabusVersion {
	return api.SyllabusVersion{ID: v.ID, SyllabusID: v.SyllabusID, Number: v.Number, Note: orNull(v.Note),
		MadeBy: orNull(v.MadeBy), MadeAt: v.MadeAt.UTC(),
		Content: contentView(v.Content), Findings: findings(v.Findings())}
}

// limit reads a quantity of a syllabus, where a plain count has the unit count.
func limit(q api.Quantity) syllabus.Quantity {
	out := syllabus.QuantityOf(q.Value, units.Unit(q.Unit))
	if q.Unit == count {
		out.Unit = ""
	}
	return out
}

func optionalLimit(q nullable.Nullable[api.Quantity]) syllabus.Quantity {
	if x := optional(q); x != nil {
		return limit(*x)
	}
	return syllabus.Quantity{}
}

func limitPointer(q nullable.Nullable[api.Quantity]) *syllabus.Quantity {
	if x := optional(q); x != nil {
		return new(limit(*x))
	}
	return nil
}

func limitView(q syllabus.Quantity) api.Quantity {
	if q.Unit == "" {
		return api.Quantity{Value: q.Value.Float(), Unit: count}
	}
	return api.Quantity{Value: q.Value.Float(), Unit: string(q.Unit)}
}

func optionalLimitView(q syllabus.Quantity) nullable.Nullable[api.Quantity] {
	if q.IsZero() {
		return orNull[api.Quantity](nil)
	}
	return orNull(new(limitView(q)))
}

func pointerLimitView(q *syllabus.Quantity) nullable.Nullable[api.Quantity] {
	if q == nil {
		return orNull[api.Quantity](nil)
	}
	return orNull(new(limitView(*q)))
}

// content reads what is taught.
func content(c api.SyllabusContent) syllabus.Syllabus {
	y := syllabus.Syllabus{Code: c.Code, Title: c.Title, Level: syllabus.Level(c.Level),
		Note: optionalText(c.Note), MinAge: syllabus.Years(c.MinAge),
		FullAge:          syllabus.Years(given(optional(c.FullAge), 0)),
		ConfinedMaxDepth: optionalLimit(c.ConfinedMaxDepth),
		MostDivesADay:    given(optional(c.MostDivesADay), 0), LeastDiveTime: optionalLimit(c.LeastDiveTime),
		EvidenceDays: given(optional(c.EvidenceDays), 0),
		Sources:      given(c.Sources, nil)}
	for _, p := range c.SignerPapers {
		y.SignerPapers = append(y.SignerPapers, syllabus.PaperKind(p))
	}
	for _, p := range c.Theory {
		y.Theory = append(y.Theory,
			syllabus.TheoryPart{Code: p.Code, Title: p.Title, PassMark: limit(p.PassMark),
				Source: optionalText(p.Source)})
	}
	for _, k := range c.Skills {
		y.Skills = append(y.Skills, skillOf(k))
	}
	for _, d := range c.Dives {
		y.Dives = append(y.Dives, diveOf(d))
	}
	return y
}

func skillOf(k api.SyllabusSkill) syllabus.Skill {
	out := syllabus.Skill{Code: k.Code, Title: k.Title, Setting: syllabus.Setting(k.Setting),
		Area: syllabus.Area(k.Area), Repeats: optionalText(k.Repeats),
		Prerequisites: given(k.Prerequisites, nil), TouchesGas: given(k.TouchesGas, false),
		EarliestDive: given(optional(k.EarliestDive), 0), Proof: syllabus.Proof(k.Proof),
		Criterion: syllabus.Criterion{Text: k.Criterion.Text, Source: optionalText(k.Criterion.Source)}}
	for _, r := range given(k.Roles, nil) {
		out.Roles = append(out.Roles, syllabus.Role(r))
	}
	for _, m := range given(k.Criterion.Measures, nil) {
		out.Criterion.Measures = append(out.Criterion.Measures, measureOf(m))
	}
	for _, w := range given(k.Criterion.EitherOf, nil) {
		out.Criterion.EitherOf = append(out.Criterion.EitherOf,
			syllabus.Way{Title: w.Title, Measures: each(w.Measures, measureOf)})
	}
	return out
}

func measureOf(m api.SkillMeasure) syllabus.Measure {
	return syllabus.Measure{Name: m.Name, AtLeast: limitPointer(m.AtLeast), AtMost: limitPointer(m.AtMost),
		Source: optionalText(m.Source)}
}

func diveOf(d api.SyllabusDive) syllabus.TrainingDive {
	out := syllabus.TrainingDive{Number: d.Number, MaxDepth: limit(d.MaxDepth),
		LeastDepth: optionalLimit(d.LeastDepth), LeastDuration: limit(d.LeastDuration),
		Prerequisites: given(d.Prerequisites, nil), Source: optionalText(d.Source)}
	for _, a := range given(d.ByAge, nil) {
		out.ByAge = append(out.ByAge,
			syllabus.AgeDepth{Under: syllabus.Years(a.Under), MaxDepth: limit(a.MaxDepth)})
	}
	return out
}

// contentView writes what is taught.
func contentView(y syllabus.Syllabus) api.SyllabusContent {
	sources := y.Sources
	if sources == nil {
		sources = map[string]string{}
	}
	return api.SyllabusContent{Code: y.Code, Title: y.Title, Level: string(y.Level), Note: unlessEmpty(y.Note),
		MinAge: int(y.MinAge), FullAge: unlessEmpty(int(y.FullAge)),
		ConfinedMaxDepth: optionalLimitView(y.ConfinedMaxDepth), MostDivesADay: unlessEmpty(y.MostDivesADay),
		LeastDiveTime: optionalLimitView(y.LeastDiveTime),
		EvidenceDays:  unlessEmpty(y.EvidenceDays), Sources: &sources,
		SignerPapers: each(y.SignerPapers,
			func(p syllabus.PaperKind) api.SyllabusContentSignerPapers { return api.SyllabusContentSignerPapers(p) }),
		Theory: each(y.Theory, func(p syllabus.TheoryPart) api.SyllabusTheoryPart {
			return api.SyllabusTheoryPart{Code: p.Code, Title: p.Title, PassMark: limitView(p.PassMark),
				Source: unlessEmpty(p.Source)}
		}),
		Skills: each(y.Skills, skillView), Dives: each(y.Dives, diveView)}
}

func skillView(k syllabus.Skill) api.SyllabusSkill {
	return api.SyllabusSkill{Code: k.Code, Title: k.Title, Setting: string(k.Setting), Area: string(k.Area),
		Repeats:       unlessEmpty(k.Repeats),
		Prerequisites: new(texts(k.Prerequisites)), TouchesGas: &k.TouchesGas,
		EarliestDive: unlessEmpty(k.EarliestDive), Proof: string(k.Proof),
		Roles: new(each(k.Roles,
			func(r syllabus.Role) api.SyllabusSkillRoles { return api.SyllabusSkillRoles(r) })),
		Criterion: api.SkillCriterion{Text: k.Criterion.Text, Source: unlessEmpty(k.Criterion.Source),
			Measures: new(each(k.Criterion.Measures, measureView)),
			EitherOf: new(each(k.Criterion.EitherOf, func(w syllabus.Way) api.SkillWay {
				return api.SkillWay{Title: w.Title, Measures: each(w.Measures, measureView)}
			}))}}
}

func measureView(m syllabus.Measure) api.SkillMeasure {
	return api.SkillMeasure{Name: m.Name, AtLeast: pointerLimitView(m.AtLeast),
		AtMost: pointerLimitView(m.AtMost), Source: unlessEmpty(m.Source)}
}

func diveView(d syllabus.TrainingDive) api.SyllabusDive {
	return api.SyllabusDive{Number: d.Number, MaxDepth: limitView(d.MaxDepth),
		LeastDepth: optionalLimitView(d.LeastDepth), LeastDuration: limitView(d.LeastDuration),
		Prerequisites: new(texts(d.Prerequisites)), Source: unlessEmpty(d.Source), ByAge: new(each(d.ByAge,
			func(a syllabus.AgeDepth) api.DepthByAge {
				return api.DepthByAge{Under: int(a.Under), MaxDepth: limitView(a.MaxDepth)}
			}))}
}
