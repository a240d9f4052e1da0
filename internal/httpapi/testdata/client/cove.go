package main

import (
	"fmt"

	"github.com/google/uuid"
)

// saturday plays the first day in open water: the gas plan, the head counts and two dives.
func (s *story) saturday() {
	const title = "Cove 1"
	s.at("2027-06-05T07:20:00Z")
	s.callRoll(title, "2027-06-05T07:15:00Z")
	s.gasPlan(title)
	s.brief(title, "2027-06-05T07:19:00Z", "")
	s.countHeads(title)
	s.open(title)
	rows := s.theDives(title)
	s.dive(title, 0, rows[0])
	last := s.dive(title, 1, rows[1])
	first, _ := s.openSkills()
	s.attempts(title, last, "2027-06-05T10:10:00Z", first)
	s.sign(title, last, first)
	s.end(title)
}

// gasPlan plans the first dive: too deep for the training dive it is refused; planned again it is confirmed.
func (s *story) gasPlan(title string) {
	dive, group := s.sessions[title].Dives[0].ID, s.groups[title]
	draft := GasPlanAdd{DiveID: &dive, GroupID: &group,
		Dive: PlanDive{Depth: metres(15), PlannedTime: minutes(22)}}
	part := s.participants(title)
	for _, name := range append(s.inGroup(), "Ines", "Abel") {
		c := s.cylinder
		draft.Divers = append(draft.Divers, GasPlanDiver{ParticipantID: part[name].ID, Start: c.Start,
			Cylinder: PlanCylinder{WaterVolume: &c.WaterVolume, WorkingPressure: &c.WorkingPressure}})
	}
	made, err := s.as("Ines").CreateGasPlanWithResponse(s.ctx, s.sessions[title].ID, draft)
	check(err)
	deep := got("gas plan", made.Body, made.JSON201)
	r := s.confirm(deep.ID, nil)
	fmt.Println("gas plan:", deep.State)
	fmt.Println("refused:", refusedBy("gas.depth_over_person", r.Body, r.ApplicationProblemJSON422))
	depth := metres(number(s.theDives(title)[0]["depth_m"]))
	again, err := s.as("Ines").ReplaceGasPlanWithResponse(s.ctx, deep.ID,
		GasReplan{Reason: "as the training dive allows", Dive: &GasReplanDive{Depth: &depth}})
	check(err)
	plan := got("gas plan", again.Body, again.JSON201)
	r = s.confirm(plan.ID, nil)
	if accept := cautions(r.ApplicationProblemJSON422); accept != nil {
		r = s.confirm(plan.ID, accept)
	}
	confirmed, err := got("confirmation", r.Body, r.JSON200).Result.Get()
	check(err)
	fmt.Println("gas plan:", confirmed.State, len(confirmed.Plan.People))
}

func (s *story) confirm(plan uuid.UUID, accept *Accept) *ConfirmGasPlanResponse {
	r, err := s.as("Ines").ConfirmGasPlanWithResponse(s.ctx, plan, &ConfirmGasPlanParams{}, Accepting{Accept: accept})
	check(err)
	return r
}

// countHeads has two people count on the quay, each on the own phone.
func (s *story) countHeads(title string) {
	outing, err := s.sessions[title].OutingID.Get()
	check(err)
	list, err := s.as("Ines").GetOutingWithResponse(s.ctx, outing, &GetOutingParams{})
	check(err)
	figure := len(got("outing", list.Body, list.JSON200).Aboard)
	var state string
	for _, by := range []string{"Ines", "Abel"} {
		r, err := s.as(by).RecordHeadCountWithResponse(s.ctx, outing, HeadCountAdd{Figure: figure,
			Phase: HeadCountAddPhaseDeparture, CountedAt: moment("2027-06-05T07:19:30Z")})
		check(err)
		state = got("head count", r.Body, r.JSON201).State
	}
	fmt.Println("heads:", figure, state)
}

// monday plays the second day, which the wind moved from Sunday.
func (s *story) monday() {
	const title = "Cove 2"
	reason := Reason("wind, force six")
	moved, err := s.as("Ines").MoveSessionWithResponse(s.ctx, s.sessions[title].ID, &MoveSessionParams{},
		SessionMove{StartsLocal: "2027-06-07T09:00", EndsLocal: "2027-06-07T12:30", Reason: &reason})
	check(err)
	now, err := got("move", moved.Body, moved.JSON200).Result.Get()
	check(err)
	fmt.Println("moved:", title, now.HeldOn)
	s.at("2027-06-07T07:20:00Z")
	s.callRoll(title, "2027-06-07T07:15:00Z")
	s.brief(title, "2027-06-07T07:17:00Z", "")
	s.open(title)
	rows := s.theDives(title)
	s.dive(title, 0, rows[0])
	last := s.dive(title, 1, rows[1])
	_, second := s.openSkills()
	s.attempts(title, last, "2027-06-07T10:10:00Z", second)
	s.refuseEarly()
	s.sign(title, last, second)
	s.end(title)
}

// openSkills returns the open-water skills of the first and of the second day: nine that may be tried on
// the first two dives, and the others.
func (s *story) openSkills() (first, second []SyllabusSkill) {
	for _, k := range s.skills(SyllabusSkillSettingOpen) {
		earliest, _ := k.EarliestDive.Get()
		if earliest <= 2 && len(first) < 9 {
			first = append(first, k)
		} else {
			second = append(second, k)
		}
	}
	return first, second
}

// refuseEarly asks for a completion before the last skills are signed.
func (s *story) refuseEarly() {
	r, err := s.as("Ines").CreateCompletionWithResponse(s.ctx, s.enrolments["Nuno"], &CreateCompletionParams{},
		CompletionAdd{})
	check(err)
	refusedBy("syllabus.skill_missing", r.Body, r.ApplicationProblemJSON422)
	fmt.Println("refused: completion of Nuno")
}

// complete completes a student, who then reads the own record and nobody else's.
func (s *story) complete() {
	r, err := s.as("Ines").CreateCompletionWithResponse(s.ctx, s.enrolments["Nuno"], &CreateCompletionParams{},
		CompletionAdd{})
	check(err)
	if accept := cautions(r.ApplicationProblemJSON422); accept != nil {
		r, err = s.as("Ines").CreateCompletionWithResponse(s.ctx, s.enrolments["Nuno"], &CreateCompletionParams{},
			CompletionAdd{Accept: accept})
		check(err)
	}
	done, err := got("completion", r.Body, r.JSON201).Result.Get()
	check(err)
	fmt.Println("completed: Nuno, signed by", done.SignedByName)
	own, err := s.as("Nuno").GetRecordWithResponse(s.ctx, s.enrolments["Nuno"], &GetRecordParams{})
	check(err)
	record := got("record", own.Body, own.JSON200)
	expect(len(record.SignOffs) == len(s.syllabus.Skills), "%d sign-offs of %d skills", len(record.SignOffs),
		len(s.syllabus.Skills))
	expect(len(record.Theory) == len(s.syllabus.Theory), "%d results in theory", len(record.Theory))
	for i, link := range record.Ledger {
		expect(link.Seq == int64(i+1) && link.Hash != "", "the ledger has %d at %d", link.Seq, i)
	}
	expect(len(record.Ledger) > len(record.SignOffs), "the ledger has %d entries", len(record.Ledger))
	fmt.Println("record:", record.State, len(record.Dives), "dives,", len(record.Completions), "completion")
	other, err := s.as("Nuno").GetRecordWithResponse(s.ctx, s.enrolments["Olga"], &GetRecordParams{})
	check(err)
	got("a refusal of another student's record", other.Body, other.ApplicationProblemJSON404)
	fmt.Println("the record of another student: not found")
}
