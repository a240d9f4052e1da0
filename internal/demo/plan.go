package demo

import "fmt"

// body returns a session as the API takes it.
func (s *story) body(x session) object {
	body := object{"kind": x.Kind, "title": x.Title, "starts_local": x.StartsLocal, "ends_local": x.EndsLocal}
	if x.Site != "" {
		body["site_id"] = s.ids[x.Site]
	}
	if len(x.TrainingDives) > 0 {
		body["training_dives"] = x.TrainingDives
	}
	return body
}

// session plans a session of a course and keeps its id under its title.
func (s *story) session(course, title string) {
	a := s.must("Mara", post, "/v1/courses/"+s.ids[course]+"/sessions",
		s.body(s.scenario.session(course, title)))
	s.ids[title] = a.id()
	if list, ok := a.body["dives"].([]any); ok {
		for i, d := range list {
			s.ids[fmt.Sprintf("%s dive %d", title, i+1)] = fmt.Sprint(d.(object)["id"])
		}
	}
	s.ids[title+" outing"] = fmt.Sprint(a.body["outing_id"])
}

// course plans a course and keeps its id under its key.
func (s *story) course(key string) {
	c := s.scenario.courses[key]
	body := object{"title": c.Title, "syllabus_id": s.ids["syllabus"], "starts_on": c.StartsOn,
		"ends_on": c.EndsOn}
	if c.Places > 0 {
		body["places"] = c.Places
	}
	s.ids[key] = s.must("Mara", post, "/v1/courses", body).id()
}

// group opens a group of a session and keeps its id.
func (s *story) group(session, name, instructor string) {
	s.ids[session+" "+name] = s.must("Mara", post, "/v1/sessions/"+s.ids[session]+"/groups",
		object{"name": name, "instructor_id": s.people[instructor]}).id()
}

// place returns the body of a placement of students into the groups of a name.
func (s *story) place(group string, students []string, sessions ...string) object {
	var enrolments, ids []string
	for _, name := range students {
		enrolments = append(enrolments, s.ids["enrolment "+name])
	}
	for _, x := range sessions {
		ids = append(ids, s.ids[x])
	}
	body := object{"enrolment_ids": enrolments, "group_name": group}
	if len(ids) > 0 {
		body["session_ids"] = ids
	}
	return body
}

// plan sets up the course: sessions, groups, crew, placements, and what the rules
// refuse.
func (s *story) plan() {
	s.chapter(at(1, "09:00"), "Mara plans the course: a theory evening, two pool sessions, "+
		"two days at the cove.")
	s.course("weekend")
	s.session("weekend", "Theory evening")
	s.refused("Mara", post, "/v1/courses/"+s.ids["weekend"]+"/sessions",
		s.body(s.scenario.session("weekend", "Cove 1")), 422, "roster.session_out_of_order",
		"She begins with the cove, before any pool session is planned.")
	for _, x := range s.scenario.courses["weekend"].Sessions[1:] {
		s.session("weekend", x.Title)
	}
	s.note("Five sessions, the two at the cove with two dives each.")
	blue := s.scenario.group("blue")
	for _, x := range s.scenario.courses["weekend"].Sessions {
		s.group(x.Title, blue.Name, blue.Instructor)
	}
	for _, name := range s.scenario.students {
		s.ids["enrolment "+name] = s.must("Mara", post, "/v1/courses/"+s.ids["weekend"]+"/enrolments",
			object{"person_id": s.people[name]}).id()
	}
	s.accepted("Mara", "/v1/courses/"+s.ids["weekend"]+"/placements", s.place("blue", blue.Students),
		"Ines takes the blue group: eight students, placed in all five sessions in one go.")
	s.moreStudents()
	s.secondGroup()
}

// moreStudents plays the ninth student, and the assistant who makes room.
func (s *story) moreStudents() {
	placements := "/v1/courses/" + s.ids["weekend"] + "/placements"
	blue := s.scenario.group("blue")
	s.refused("Mara", post, placements, s.place("blue", blue.WithAssistant[:1]), 422, "ratio.too_many_students",
		"Viktor would be the ninth.")
	for _, x := range s.scenario.courses["weekend"].Sessions[1:] {
		s.must("Mara", post, "/v1/sessions/"+s.ids[x.Title]+"/participants",
			object{"role": "assistant", "person_id": s.people[blue.Assistant],
				"group_id": s.ids[x.Title+" blue"]})
	}
	s.note("Abel joins the blue group as an assistant, at the pool and at the cove.")
	s.accepted("Mara", placements, s.place("blue", blue.WithAssistant),
		"Now there is room for Viktor, and for Kim: ten students with one assistant.")
	s.refused("Mara", post, "/v1/sessions/"+s.ids["Cove 1"]+"/participants",
		object{"role": "instructor", "person_id": s.people["Lars"], "group_id": s.ids["Cove 1 blue"]},
		422, "roster.crew_paper", "Lars offers to come along on Saturday.")
}

// secondGroup plays Rui's group, who may not join it yet, and a swap.
func (s *story) secondGroup() {
	placements := "/v1/courses/" + s.ids["weekend"] + "/placements"
	for _, x := range s.scenario.courses["weekend"].Sessions {
		s.group(x.Title, "red", s.scenario.group("red").Instructor)
	}
	s.note("Rui opens a second group, red: his own students, his own ratio.")
	s.refused("Mara", post, placements, s.place("red", []string{"Fay"}), 422, "roster.medical_flagged",
		"Fay is to join it.")
	s.papers("Fay", "physician")
	s.accepted("Mara", placements, s.place("red", []string{"Fay"}),
		"Her physician's approval is on record; she is in.")
	s.refused("Mara", post, placements, s.place("red", []string{"Minna"}), 422, "roster.minor_consent",
		"Minna, who is fifteen, is to join it too.")
	s.papers("Minna", "father")
	s.accepted("Mara", placements, s.place("red", []string{"Minna"}), "Her father signs; she is in.")
	s.otherCourse()
	s.swap()
}

// otherCourse plays Rui, who cannot be in two places, and an evening session that is
// needed later.
func (s *story) otherCourse() {
	s.course("evenings")
	s.session("evenings", "Evening pool")
	s.refused("Mara", post, "/v1/sessions/"+s.ids["Evening pool"]+"/groups",
		object{"name": "green", "instructor_id": s.people["Rui"]}, 422, "roster.double_booked",
		"Mara wants Rui for the evening course too, on Friday at three.")
	s.must("Mara", post, "/v1/sessions/"+s.ids["Evening pool"]+"/move",
		object{"starts_local": "2027-06-04T18:00", "ends_local": "2027-06-04T20:00",
			"reason": "nobody free before"})
	s.group("Evening pool", "green", "Lars")
	s.note("That session moves to six, and Lars takes it: his first aid is valid to the end of Friday.")
}

// swap exchanges two students between two full groups, in one operation.
func (s *story) swap() {
	red := "/v1/groups/" + s.ids["Cove 2 red"]
	version := s.must("Rui", get, red, nil).etag
	s.must("Rui", patch, red, object{"places_lowered": 2}, "If-Match", version)
	s.note("For Sunday Rui lowers his own limit to two: the forecast has swell. Both groups are full now.")
	uma, fay := s.participant("Cove 2", "Uma"), s.participant("Cove 2", "Fay")
	one := object{"moves": []object{{"participant_id": uma, "group_id": s.ids["Cove 2 red"]}}}
	s.refused("Ines", post, "/v1/sessions/"+s.ids["Cove 2"]+"/regroup", one, 422, "ratio.above_lowered_limit",
		"Uma would like to dive with Fay; Ines moves her alone.")
	both := object{"moves": []object{{"participant_id": uma, "group_id": s.ids["Cove 2 red"]},
		{"participant_id": fay, "group_id": s.ids["Cove 2 blue"]}}}
	s.accepted("Ines", "/v1/sessions/"+s.ids["Cove 2"]+"/regroup", both,
		"Uma and Fay change places, both groups full before and after.")
}

// participant returns the id of a person's participation in a session.
func (s *story) participant(session, name string) string {
	for _, p := range s.must("Mara", get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if p["person_id"] == s.people[name].String() {
			return fmt.Sprint(p["id"])
		}
	}
	panic(storyStopped{name + " takes no part in " + session})
}
