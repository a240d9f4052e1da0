package main

import (
	"fmt"
	"strconv"

	"github.com/oapi-codegen/nullable"
)

func bar(x float64) Pressure     { return Pressure{Value: x, Unit: PressureUnitBar} }
func metres(x float64) Depth     { return Depth{Value: x, Unit: DepthUnitM} }
func minutes(x float64) Duration { return Duration{Value: x, Unit: DurationUnitMin} }

// centre sets up what the centre has: sites, gas settings, a convention of its own, a syllabus.
func (s *story) centre() {
	mara := s.as("Mara")
	me, err := mara.GetMeWithResponse(s.ctx, &GetMeParams{})
	check(err)
	fmt.Println("Mara is", got("me", me.Body, me.JSON200).Roles)
	for _, key := range []string{"pool", "bay"} {
		r, err := mara.CreateSiteWithResponse(s.ctx, s.site[key])
		check(err)
		s.sites[key] = got("site", r.Body, r.JSON201).ID
	}
	s.gasSettings()
	s.convention()
	list, err := mara.ListBuiltInSyllabusesWithResponse(s.ctx, &ListBuiltInSyllabusesParams{})
	check(err)
	s.syllabus = got("built-in syllabuses", list.Body, list.JSON200).Items[0]
	made, err := mara.CreateSyllabusWithResponse(s.ctx,
		SyllabusCreate{Title: "First certification", BuiltIn: &s.syllabus.Code})
	check(err)
	syllabus := got("syllabus", made.Body, made.JSON201)
	course, err := mara.CreateCourseWithResponse(s.ctx, CourseCreate{Title: s.weekend.Title,
		SyllabusID: syllabus.ID, StartsOn: s.weekend.StartsOn, EndsOn: s.weekend.EndsOn})
	check(err)
	c := got("course", course.Body, course.JSON201)
	s.course = c.ID
	fmt.Println("course:", c.Title, c.State)
}

// gasSettings raises the floor that every diver's gas is held against in confined water.
func (s *story) gasSettings() {
	mara := s.as("Mara")
	r, err := mara.GetGasSettingsWithResponse(s.ctx, &GetGasSettingsParams{})
	check(err)
	version := strconv.Quote(fmt.Sprint(got("gas settings", r.Body, r.JSON200).Version))
	changed, err := mara.ChangeGasSettingsWithApplicationMergePatchPlusJSONBodyWithResponse(s.ctx,
		&ChangeGasSettingsParams{IfMatch: &version},
		GasSettingsPatch{ConfinedFloor: nullable.NewNullableWithValue(bar(45))})
	check(err)
	now := got("gas settings", changed.Body, changed.JSON200)
	expect(now.ConfinedFloor == bar(45), "the floor is %v", now.ConfinedFloor)
	fmt.Println("gas settings: floor in confined water", now.ConfinedFloor.Value, now.ConfinedFloor.Unit)
}

// convention agrees on the hand signs of the house: those of a known convention, under a code of its own.
func (s *story) convention() {
	mara := s.as("Mara")
	r, err := mara.GetConventionWithResponse(s.ctx, "tee_bar", &GetConventionParams{})
	check(err)
	known := got("convention", r.Body, r.JSON200)
	own := ConventionCreate{Code: house, Name: "Signs of the house", Hands: Hands(known.Hands),
		Style: NumberStyle(known.Style), Unit: GaugeUnit(known.Unit), Signs: SignsAgreed{}}
	if ten, err := known.Ten.Get(); err == nil {
		own.Ten = &ten
	}
	for _, sign := range known.Signs {
		own.Signs = append(own.Signs, SignAgreed{Gesture: sign.Gesture, Meaning: Meaning(sign.Meaning)})
	}
	made, err := mara.CreateConventionWithResponse(s.ctx, &CreateConventionParams{}, own)
	check(err)
	if own.Accept = cautions(made.ApplicationProblemJSON422); own.Accept != nil {
		made, err = mara.CreateConventionWithResponse(s.ctx, &CreateConventionParams{}, own)
		check(err)
	}
	c, err := got("convention", made.Body, made.JSON201).Result.Get()
	check(err)
	fmt.Println("convention:", c.Code, c.Unit)
}

// house is the code of the centre's own convention.
const house = "house_bar"

// crewAndStudents sets up the people with their papers and tokens.
func (s *story) crewAndStudents() {
	for _, c := range s.crew {
		s.person(c, PersonCreateRoles(c["role"]))
	}
	for _, p := range s.students {
		s.person(p, PersonCreateRolesStudent)
	}
	s.token("Ines", TokenCreateScopesSessionsWrite, TokenCreateScopesTrainingWrite, TokenCreateScopesSignOffsWrite)
	s.token("Abel", TokenCreateScopesSessionsWrite)
	s.token("Nuno")
	fmt.Println("people:", len(s.people))
}

// person adds a person with the papers of the scenario.
func (s *story) person(row map[string]string, role PersonCreateRoles) {
	name := firstName(row["name"])
	p := PersonCreate{Name: row["name"], BirthOn: day(row["birth_on"]), Roles: []PersonCreateRoles{role}}
	if unit := PersonCreateGaugeUnit(row["gauge_unit"]); unit != "" {
		p.GaugeUnit = &unit
	}
	r, err := s.as("Mara").CreatePersonWithResponse(s.ctx, p)
	check(err)
	s.people[name] = got("person", r.Body, r.JSON201).ID
	for _, paper := range s.papers {
		if paper["person"] != name {
			continue
		}
		outcome := PaperRecordOutcome(paper["outcome"])
		record := PaperRecord{Kind: PaperRecordKind(paper["kind"]), Outcome: &outcome,
			IssuedOn: day(paper["issued_on"])}
		if until := paper["valid_until"]; until != "" {
			record.ValidUntil = nullable.NewNullableWithValue(day(until))
		}
		r, err := s.as("Mara").RecordPaperWithResponse(s.ctx, s.people[name], record)
		check(err)
		got("paper of "+name, r.Body, r.JSON201)
	}
}

// token makes a token for a person's own phone.
func (s *story) token(name string, scopes ...TokenCreateScopes) {
	person := s.people[name]
	scopes = append(scopes, TokenCreateScopesPeopleRead, TokenCreateScopesCoursesRead, TokenCreateScopesSessionsRead,
		TokenCreateScopesTrainingRead)
	r, err := s.as("Mara").CreateTokenWithResponse(s.ctx, TokenCreate{PersonID: &person, Scopes: scopes})
	check(err)
	s.connect(name, got("token of "+name, r.Body, r.JSON201).Secret)
}
