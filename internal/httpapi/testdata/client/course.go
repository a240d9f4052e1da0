package main

import (
	"fmt"
	"slices"

	"github.com/google/uuid"
)

// played are the sessions of the scenario that are held here, in their order.
var played = []string{"Theory evening", "Pool 1", "Cove 1", "Cove 2"}

// schedule creates the sessions, each with the group of the instructor.
func (s *story) schedule() {
	for _, x := range s.weekend.Sessions {
		if !slices.Contains(played, x.Title) {
			continue
		}
		if site, has := s.sites[x.Site]; has {
			x.SiteID = &site
		}
		r, err := s.as("Mara").CreateSessionWithResponse(s.ctx, s.course, &CreateSessionParams{}, x.SessionCreate)
		check(err)
		made, err := got("session", r.Body, r.JSON201).Result.Get()
		check(err)
		s.sessions[x.Title] = made
		group, err := s.as("Mara").CreateGroupWithResponse(s.ctx, made.ID, &CreateGroupParams{},
			GroupCreate{Name: "blue", InstructorID: s.people["Ines"]})
		check(err)
		g, err := got("group", group.Body, group.JSON201).Result.Get()
		check(err)
		s.groups[x.Title] = g.ID
	}
	fmt.Println("sessions:", len(s.sessions))
}

// placeStudents enrols the students and places them. A ninth is refused until an assistant is there.
func (s *story) placeStudents() {
	all := s.inGroup()
	for _, name := range all {
		r, err := s.as("Mara").CreateEnrolmentWithResponse(s.ctx, s.course, &CreateEnrolmentParams{},
			EnrolmentAdd{PersonID: s.people[name]})
		check(err)
		e, err := got("enrolment", r.Body, r.JSON201).Result.Get()
		check(err)
		s.enrolments[name] = e.ID
	}
	first, ninth := all[:len(all)-1], all[len(all)-1:]
	r := s.place(first)
	placed, err := got("placements", r.Body, r.JSON200).Result.Get()
	check(err)
	fmt.Println("placed:", len(placed.Items), "parts of", len(first), "students")
	r = s.place(ninth)
	fmt.Println("refused:", refusedBy("ratio.too_many_students", r.Body, r.ApplicationProblemJSON422))
	for _, title := range played[1:] {
		abel, group := s.people["Abel"], s.groups[title]
		r, err := s.as("Mara").CreateParticipantWithResponse(s.ctx, s.sessions[title].ID,
			&CreateParticipantParams{}, ParticipantAdd{Role: ParticipantAddRoleAssistant, PersonID: &abel,
				GroupID: &group})
		check(err)
		got("assistant", r.Body, r.JSON201)
	}
	r = s.place(ninth)
	expect(got("placement", r.Body, r.JSON200).Decision.Allowed, "the ninth was not placed: %s", r.Body)
	fmt.Println("placed with an assistant:", ninth[0])
}

// place asks to place students in the blue groups of all sessions.
func (s *story) place(names []string) *CreatePlacementsResponse {
	group := "blue"
	ask := Placement{GroupName: &group}
	for _, name := range names {
		ask.EnrolmentIds = append(ask.EnrolmentIds, s.enrolments[name])
	}
	r, err := s.as("Mara").CreatePlacementsWithResponse(s.ctx, s.course, &CreatePlacementsParams{}, ask)
	check(err)
	return r
}

// participants returns who takes part in a session, by first name.
func (s *story) participants(title string) map[string]Participant {
	r, err := s.as("Ines").ListParticipantsWithResponse(s.ctx, s.sessions[title].ID, &ListParticipantsParams{})
	check(err)
	out := map[string]Participant{}
	for _, p := range got("participants", r.Body, r.JSON200).Items {
		out[firstName(p.PersonName)] = p
	}
	return out
}

// callRoll records that everybody is there.
func (s *story) callRoll(title, at string) {
	var calls RollCalls
	for _, p := range s.participants(title) {
		calls.Items = append(calls.Items, RollCall{ID: uuid.New(), ParticipantID: &p.ID,
			Attendance: RollCallAttendancePresent, WitnessedAt: moment(at)})
	}
	r, err := s.as("Ines").RecordRollCallsWithResponse(s.ctx, s.sessions[title].ID, calls)
	check(err)
	recorded("roll call", got("roll call", r.Body, r.JSON200).Items)
	fmt.Println("roll call:", title, len(calls.Items))
}

// open opens a session, with the acceptances that it needs.
func (s *story) open(title string) {
	ask := Accepting{}
	r, err := s.as("Ines").OpenSessionWithResponse(s.ctx, s.sessions[title].ID, &OpenSessionParams{}, ask)
	check(err)
	if ask.Accept = cautions(r.ApplicationProblemJSON422); ask.Accept != nil {
		r, err = s.as("Ines").OpenSessionWithResponse(s.ctx, s.sessions[title].ID, &OpenSessionParams{}, ask)
		check(err)
	}
	now, err := got("opening of "+title, r.Body, r.JSON200).Result.Get()
	check(err)
	fmt.Println("opened:", title, now.State)
}

// end ends a session.
func (s *story) end(title string) {
	complete := s.sessions[title].Kind != "theory"
	r, err := s.as("Ines").CloseSessionWithResponse(s.ctx, s.sessions[title].ID, &CloseSessionParams{},
		SessionClose{LogComplete: &complete})
	check(err)
	fmt.Println("closed:", title, got("close", r.Body, r.JSON200).State)
}

// theoryEvening marks all parts of the theory.
func (s *story) theoryEvening() {
	s.at("2027-06-03T17:00:00Z")
	s.open("Theory evening")
	s.callRoll("Theory evening", "2027-06-03T16:55:00Z")
	session := s.sessions["Theory evening"].ID
	for _, name := range s.inGroup() {
		for _, part := range s.syllabus.Theory {
			r, err := s.as("Ines").RecordTheoryResultWithResponse(s.ctx, s.enrolments[name],
				TheoryResultAdd{Part: part.Code, Percent: 88, SessionID: &session,
					WitnessedAt: moment("2027-06-03T16:50:00Z")})
			check(err)
			expect(got("theory", r.Body, r.JSON201).Passed, "%s did not pass %s", name, part.Code)
		}
	}
	s.end("Theory evening")
}
