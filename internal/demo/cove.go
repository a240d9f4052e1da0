package demo

import (
	"fmt"
	"slices"

	"github.com/google/uuid"
)

// openWater plays the referral on Friday evening, and the two days at the cove.
func (s *story) openWater() {
	s.referral()
	s.saturday()
	s.sunday()
	s.monday()
}

// referral adds Ida, who did her theory and pool skills elsewhere.
func (s *story) referral() {
	s.chapter(at(4, "19:30"), "Friday evening: Ida arrives, with theory and pool skills done "+
		"at another centre.")
	r := s.scenario.referral
	id := s.must("Mara", post, "/v1/people", object{"name": r.Name, "birth_on": r.BirthOn,
		"roles": []string{"student"}}).id()
	s.add("Ida", uuid.MustParse(id), "")
	s.papers("Ida", "referred")
	enrolment := s.must("Mara", post, "/v1/courses/"+s.ids["weekend"]+"/enrolments",
		object{"person_id": id}).id()
	s.ids["enrolment Ida"] = enrolment
	credit := func(what, code string) {
		s.must("Ines", post, "/v1/enrolments/"+enrolment+"/credits",
			object{"what": what, "code": code, "done_at_centre": r.DoneAtCentre, "done_by": r.DoneBy,
				"done_on": r.DoneOn, "document": r.Document})
	}
	for _, p := range s.must("Ines", get, "/v1/built-in-syllabuses", nil).items()[0]["theory"].([]any) {
		credit("theory_part", fmt.Sprint(p.(object)["code"]))
	}
	for _, k := range s.in("confined") {
		credit("skill", k.code)
	}
	s.accepted("Mara", "/v1/courses/"+s.ids["weekend"]+"/placements",
		s.place("red", []string{"Ida"}, "Cove 1"),
		"Ines reads the referral letter and accepts the credits; Ida joins Rui's group on Saturday.")
}

// saturday plays the first day at the cove, and the steps before its session can
// open.
func (s *story) saturday() {
	s.chapter(at(5, "07:15"), "Saturday at the cove. Abel calls: he is ill. And Kim is not well.")
	a := s.must("Ines", post, "/v1/sessions/"+s.ids["Cove 1"]+"/roll-calls",
		object{"items": []object{{"id": newID(), "participant_id": s.participant("Cove 1", "Abel"),
			"attendance": "absent", "aboard": false, "witnessed_at": at(5, "07:10")}}})
	s.recorded(a)
	g := s.must("Ines", get, "/v1/groups/"+s.ids["Cove 1 blue"], nil)
	s.expect(g.body["cleared"] == false, "the blue group kept its clearance without Abel")
	s.note("That is a fact and is heard; the blue group, %v students, has %v places now and is no longer "+
		"cleared.", g.body["students"], g.body["places"])
	s.accepted("Bea", "/v1/people/"+s.people["Kim"].String()+"/unfit-marks",
		object{"unfit_on": "2027-06-05", "note": "not well this morning"}, "Bea marks Kim not fit today.")
	opening := "/v1/sessions/" + s.ids["Cove 1"] + "/open"
	s.refused("Ines", post, opening, object{}, 422, "ratio.too_many_students",
		"Ines tries to open the session.")
	s.accepted("Ines", "/v1/sessions/"+s.ids["Cove 1"]+"/participants",
		object{"role": "assistant", "person_id": s.people["Bea"], "group_id": s.ids["Cove 1 blue"]},
		"Bea steps in for Abel; the group is cleared again.")
	s.callRoll("Ines", "Cove 1", at(5, "07:18"), map[string]string{"Abel": "absent", "Kim": "sat_out"})
	s.gasPlan()
	s.withoutLowGas(opening)
	s.brief("Ines", "Cove 1", at(5, "07:19"), "Abel", "Kim")
	s.headCounts(opening)
	s.accepted("Ines", opening, object{},
		"Kim sits out, the roll is called, everybody is briefed and found, "+
			"and the session opens.")
	s.shore("Cove 1", func() { s.dive("Cove 1", 1) }, func() { s.dive("Cove 1", 2) })
	s.rosa()
	firstDay, _ := s.openSkills()
	s.attempts("Ines", "Cove 1", at(5, "10:10"), "Cove 1 dive 2", s.inWater("Cove 1", "blue"), firstDay)
	s.attempts("Rui", "Cove 1", at(5, "10:10"), "Cove 1 dive 2", s.inWater("Cove 1", "red"), firstDay)
	s.sign("Ines", "Cove 1", "Cove 1 dive 2",
		slices.DeleteFunc(s.inWater("Cove 1", "blue"), func(n string) bool { return n == "Rosa" }),
		firstDay...)
	s.sign("Rui", "Cove 1", "Cove 1 dive 2", s.inWater("Cove 1", "red"), firstDay...)
	s.sign("Ines", "Cove 1", "Cove 1 dive 2", []string{"Rosa"},
		slices.DeleteFunc(slices.Clone(firstDay),
			func(k skill) bool { return slices.Contains(s.rosasOwn(), k.code) })...)
	s.must("Ines", post, "/v1/sessions/"+s.ids["Cove 1"]+"/close", object{"log_complete": true})
	s.note("Two dives, %d skills signed for each who was in.", len(firstDay))
}

// headCounts plays two head counts that differ, which keep the session from opening,
// and a third that resolves it.
func (s *story) headCounts(opening string) {
	outing := "/v1/outings/" + s.ids["Cove 1 outing"]
	s.must("Ines", post, outing+"/guests", object{"name": "Old Bento", "part": "skipper"})
	list := s.must("Ines", get, outing, nil).body["aboard"].([]any)
	count := func(who string, figure int, when string) answer {
		return s.must(who, post, outing+"/head-counts",
			object{"phase": "departure", "figure": figure, "counted_at": when})
	}
	count("Ines", len(list), at(5, "07:16"))
	a := count("Bea", len(list)-1, at(5, "07:17"))
	s.expect(a.body["state"] == "alarm", "two head counts that differ are no alarm: %v", a.body["state"])
	s.tell("✗", "Heads are counted on the quay: Ines has %d, Bea %d. Nobody leaves.", len(list), len(list)-1)
	s.why(a.body, "roster.head_count_alarm")
	s.refused("Ines", post, opening, object{}, 422, "roster.heads_not_settled",
		"Nor does the session open while somebody may be missing.")
	a = count("Rui", len(list), at(5, "07:18"))
	s.expect(a.body["state"] == "agreed", "the third head count does not settle it: %v", a.body["state"])
	s.tell("✓", "Rui counts %d too, as on the list. They leave.", len(list))
}

// dive logs a dive of all participants who are in the water.
func (s *story) dive(session string, number int) {
	d, c := s.scenario.dive(session, number), s.scenario.cylinder
	s.must("Mara", post, "/v1/centre/set-clock", object{"now_at": later(d.in, d.minutes+5)})
	var starts, ends []object
	for _, p := range s.must("Ines", get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if slices.Contains([]any{"absent", "sat_out"}, p["attendance"]) {
			continue
		}
		deepest := d.depth
		if p["group_id"] == s.ids[session+" red"] {
			deepest = min(d.depth, s.minorsDepth())
		}
		start := newID()
		left := s.endPressure(firstName(fmt.Sprint(p["person_name"])), deepest, d.minutes)
		starts = append(starts, object{"id": start, "participant_id": p["id"], "in_at": d.in,
			"cylinder_size": c.WaterVolume, "cylinder_rating": c.WorkingPressure, "start_pressure": c.Start})
		ends = append(ends, object{"id": newID(), "time_in_id": start, "out_at": later(d.in, d.minutes),
			"depth": metres(deepest), "end_pressure": bar(left)})
	}
	path := "/v1/dives/" + s.diveID(session, number)
	s.recorded(s.must("Ines", post, path+"/times-in", object{"items": starts}))
	s.recorded(s.must("Ines", post, path+"/times-out", object{"items": ends}))
	clear(s.ends)
}

// endPressure returns the pressure, in bar, with which a person ends a dive: where the story
// does not set it, that of somebody who spends it at half the depth, by the ideal gas law.
func (s *story) endPressure(first string, deepest float64, minutes int) float64 {
	if left, ok := s.ends[first]; ok {
		return left
	}
	rate, ok := s.scenario.breathing[first]
	if !ok {
		panic(storyStopped{"nothing is known of the breathing of " + first})
	}
	litres, c := rate*(1+deepest/20)*float64(minutes), s.scenario.cylinder
	return float64(int(c.Start.Value - litres/c.WaterVolume.Value))
}

// diveID returns the id of a dive of a session.
func (s *story) diveID(session string, number int) string {
	return s.ids[fmt.Sprintf("%s dive %d", session, number)]
}

// openSkills returns the open-water skills of the first and of the second day.
func (s *story) openSkills() (first, second []skill) {
	for _, k := range s.in("open") {
		if k.earliest <= 2 && len(first) < 9 {
			first = append(first, k)
		} else {
			second = append(second, k)
		}
	}
	return first, second
}

// inWater returns the divers of a group in a session, by first name.
func (s *story) inWater(session, group string) []string {
	var out []string
	for _, p := range s.must("Ines", get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if p["role"] == "student" && p["group_id"] == s.ids[session+" "+group] &&
			(p["attendance"] == "present" || p["attendance"] == "expected") {
			out = append(out, firstName(fmt.Sprint(p["person_name"])))
		}
	}
	return out
}

// rosasOwn returns the open-water skills that are signed for Rosa separately.
func (s *story) rosasOwn() []string {
	return []string{"kit-check-open", "water-entry-open", "descent-open", "hover-open"}
}

// rosa plays a sign-off that was made for the wrong student.
func (s *story) rosa() {
	pool := "Pool 1"
	half := s.in("confined")
	if slices.IndexFunc(half, func(k skill) bool { return k.code == "hover" }) >= len(half)/2 {
		pool = "Pool 2"
	}
	var id string
	for _, o := range s.must("Ines", get, "/v1/enrolments/"+s.ids["enrolment Rosa"]+
		"/sign-offs", nil).items() {
		if o["skill"] == "hover" {
			id = fmt.Sprint(o["id"])
		}
	}
	s.accepted("Ines", "/v1/sign-offs/"+id+"/void", object{"reason": "my slate has no time for it"},
		"Ines voids Rosa's hover from the pool: her own slate has no time for it.")
	own := []skill{}
	for _, code := range s.rosasOwn() {
		own = append(own, s.skill(code))
	}
	s.attempts("Ines", "Cove 1", at(5, "10:05"), "Cove 1 dive 2", []string{"Rosa"}, own)
	s.sign("Ines", "Cove 1", "Cove 1 dive 2", []string{"Rosa"}, own[:3]...)
	path := "/v1/sessions/" + s.ids["Cove 1"] + "/sign-offs"
	s.itemRefused("Ines", path, s.signOffItems("Cove 1 dive 2", []string{"Rosa"}, own[3])[0],
		"syllabus.confined_first", "So Rosa's hover at the cove cannot be signed.")
	s.sign("Ines", pool, "", []string{"Rosa"}, s.skill("hover"))
	s.sign("Ines", "Cove 1", "Cove 1 dive 2", []string{"Rosa"}, own[3])
	s.tell("✓", "Her wet notes have it, 34 seconds, seen by herself: Ines signs the pool again, "+
		"and then the cove. The void stays in the record.")
}

// sunday plays a day that is called off.
func (s *story) sunday() {
	s.chapter(at(6, "06:30"), "Sunday: force six from the north. The day is called off.")
	s.refused("Ines", post, "/v1/sessions/"+s.ids["Cove 2"]+"/move",
		object{"starts_local": "2027-06-05T07:00", "ends_local": "2027-06-05T09:30", "reason": "wind"}, 422,
		"roster.double_booked",
		"Ines mistypes the new day: Saturday.")
	s.accepted("Ines", "/v1/sessions/"+s.ids["Cove 2"]+"/move",
		object{"starts_local": "2027-06-07T09:00", "ends_local": "2027-06-07T12:30",
			"reason": "wind, force six"},
		"It moves to Monday; papers, clashes and ratios are judged again for that day.")
	red := "/v1/groups/" + s.ids["Cove 2 red"]
	s.must("Rui", patch, red, object{"places_lowered": nil}, "If-Match", s.must("Rui", get, red, nil).etag)
	s.accepted("Mara", "/v1/courses/"+s.ids["weekend"]+"/placements",
		s.place("red", []string{"Ida"}, "Cove 2"),
		"The forecast is calm: Rui takes his own limit back, and Ida joins him.")
}

// monday plays the second day at the cove.
func (s *story) monday() {
	s.chapter(at(7, "07:15"), "Monday at the cove, flat calm.")
	opening := "/v1/sessions/" + s.ids["Cove 2"] + "/open"
	s.refused("Ines", post, opening, object{}, 422, "",
		"Ines tries to open it with Kim on the list, who has not done the first two dives.")
	s.callRoll("Ines", "Cove 2", at(7, "07:16"), map[string]string{"Kim": "sat_out"})
	s.brief("Ines", "Cove 2", at(7, "07:17"), "Kim")
	s.accepted("Ines", opening, object{},
		"Kim will do them next week; today she helps on the quay. The others are briefed, "+
			"and the session opens.")
	s.dive("Cove 2", 1)
	s.logGasChecks("Ines", "misread")
	s.gasWatch("Cove 2", 2)
	s.dive("Cove 2", 2)
	_, second := s.openSkills()
	for _, g := range []struct{ who, group string }{{"Ines", "blue"}, {"Rui", "red"}} {
		s.attempts(g.who, "Cove 2", at(7, "10:10"), "Cove 2 dive 2", s.inWater("Cove 2", g.group), second)
	}
}
