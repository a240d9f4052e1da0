package demo

import (
	"fmt"
	"slices"
)

// session plans a session and keeps its id under a name.
func (s *story) session(name, course, kind, site, from, to string, dives ...int) {
	body := object{"kind": kind, "title": name, "starts_local": from, "ends_local": to}
	if site != "" {
		body["site_id"] = s.ids[site]
	}
	if len(dives) > 0 {
		body["training_dives"] = dives
	}
	a := s.must("Mara", post, "/v1/courses/"+s.ids[course]+"/sessions", body)
	s.ids[name] = a.id()
	if list, ok := a.body["dives"].([]any); ok {
		for i, d := range list {
			s.ids[fmt.Sprintf("%s dive %d", name, i+1)] = fmt.Sprint(d.(object)["id"])
		}
	}
	s.ids[name+" outing"] = fmt.Sprint(a.body["outing_id"])
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

var weekend = []string{"Theory evening", "Pool 1", "Pool 2", "Cove 1", "Cove 2"}

// plan sets up the course: sessions, groups, crew, placements, and what the rules
// refuse.
func (s *story) plan() {
	s.chapter(at(1, "09:00"), "Mara plans the course: a theory evening, two pool sessions, "+
		"two days at the cove.")
	s.ids["course"] = s.must("Mara", post, "/v1/courses",
		object{"title": "Weekend course, June", "syllabus_id": s.ids["syllabus"],
			"starts_on": "2027-06-03", "ends_on": "2027-06-07", "places": 16}).id()
	s.session("Theory evening", "course", "theory", "", "2027-06-03T18:00", "2027-06-03T21:00")
	s.refused("Mara", post, "/v1/courses/"+s.ids["course"]+"/sessions",
		object{"kind": "open", "title": "Cove 1", "site_id": s.ids["bay"],
			"starts_local": "2027-06-05T09:00", "ends_local": "2027-06-05T12:30",
			"training_dives": []int{1, 2}}, 422, "roster.session_out_of_order",
		"She begins with the cove, before any pool session is planned.")
	s.session("Pool 1", "course", "confined", "pool", "2027-06-04T09:00", "2027-06-04T12:00")
	s.session("Pool 2", "course", "confined", "pool", "2027-06-04T13:30", "2027-06-04T16:30")
	s.session("Cove 1", "course", "open", "bay", "2027-06-05T09:00", "2027-06-05T12:30", 1, 2)
	s.session("Cove 2", "course", "open", "bay", "2027-06-06T09:00", "2027-06-06T12:30", 3, 4)
	s.note("Five sessions, the two at the cove with two dives each.")
	for _, x := range weekend {
		s.group(x, "blue", "Ines")
	}
	for _, name := range slices.Concat(blue, late, red) {
		s.ids["enrolment "+name] = s.must("Mara", post, "/v1/courses/"+s.ids["course"]+"/enrolments",
			object{"person_id": s.people[name]}).id()
	}
	s.accepted("Mara", "/v1/courses/"+s.ids["course"]+"/placements", s.place("blue", blue),
		"Ines takes the blue group: eight students, placed in all five sessions in one go.")
	s.moreStudents()
	s.secondGroup()
}

// moreStudents plays the ninth student, and the assistant who makes room.
func (s *story) moreStudents() {
	placements := "/v1/courses/" + s.ids["course"] + "/placements"
	s.refused("Mara", post, placements, s.place("blue", late[:1]), 422, "ratio.too_many_students",
		"Viktor would be the ninth.")
	for _, x := range weekend[1:] {
		s.must("Mara", post, "/v1/sessions/"+s.ids[x]+"/participants",
			object{"role": "assistant", "person_id": s.people["Abel"], "group_id": s.ids[x+" blue"]})
	}
	s.note("Abel joins the blue group as an assistant, at the pool and at the cove.")
	s.accepted("Mara", placements, s.place("blue", late),
		"Now there is room for Viktor, and for Kim: ten students with one assistant.")
	s.refused("Mara", post, "/v1/sessions/"+s.ids["Cove 1"]+"/participants",
		object{"role": "instructor", "person_id": s.people["Lars"], "group_id": s.ids["Cove 1 blue"]},
		422, "roster.crew_paper", "Lars offers to come along on Saturday.")
}

// secondGroup plays Rui's group, who may not join it yet, and a swap.
func (s *story) secondGroup() {
	placements := "/v1/courses/" + s.ids["course"] + "/placements"
	for _, x := range weekend {
		s.group(x, "red", "Rui")
	}
	s.note("Rui opens a second group, red: his own students, his own ratio.")
	s.refused("Mara", post, placements, s.place("red", []string{"Fay"}), 422, "roster.medical_flagged",
		"Fay is to join it.")
	s.paper("Fay", "medical", "physician_approved", "2027-06-01", "2028-05-31")
	s.accepted("Mara", placements, s.place("red", []string{"Fay"}),
		"Her physician's approval is on record; she is in.")
	s.refused("Mara", post, placements, s.place("red", []string{"Minna"}), 422, "roster.minor_consent",
		"Minna, who is fifteen, is to join it too.")
	s.paper("Minna", "consent", "valid", "2027-06-01", "2028-01-16")
	s.accepted("Mara", placements, s.place("red", []string{"Minna"}), "Her father signs; she is in.")
	s.otherCourse()
	s.swap()
}

// otherCourse plays Rui, who cannot be in two places, and an evening session that is
// needed later.
func (s *story) otherCourse() {
	s.ids["evenings"] = s.must("Mara", post, "/v1/courses",
		object{"title": "Evening course, June", "syllabus_id": s.ids["syllabus"],
			"starts_on": "2027-06-04", "ends_on": "2027-06-25"}).id()
	s.session("Evening pool", "evenings", "confined", "pool", "2027-06-04T15:00", "2027-06-04T17:00")
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
