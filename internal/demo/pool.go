package demo

import (
	"fmt"
	"slices"
)

// blue returns all students of the blue group, red those of the red group.
func (s *story) blue() []string {
	g := s.scenario.group("blue")
	return slices.Concat(g.Students, g.WithAssistant)
}

func (s *story) red() []string { return s.scenario.group("red").Students }

// callRoll calls the roll of a session: all are present but those in otherwise.
func (s *story) callRoll(who, session, when string, otherwise map[string]string) {
	var items []object
	for _, p := range s.must(who, get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		attendance := "present"
		if a, ok := otherwise[firstName(fmt.Sprint(p["person_name"]))]; ok {
			attendance = a
		}
		items = append(items, object{"id": newID(), "participant_id": p["id"], "attendance": attendance,
			"witnessed_at": when})
	}
	s.recorded(s.must(who, post, "/v1/sessions/"+s.ids[session]+"/roll-calls", object{"items": items}))
}

// attempts logs attempts of students at skills in a session, met in each role.
func (s *story) attempts(who, session, when, dive string, students []string, skills []skill) {
	var items []object
	for _, name := range students {
		part := s.participant(session, name)
		for _, k := range skills {
			roles := k.roles
			if len(roles) == 0 {
				roles = []any{nil}
			}
			for _, role := range roles {
				item := object{"id": newID(), "participant_id": part, "skill": k.code, "met": true,
					"witnessed_at": when, "measures": append([]object{}, k.measures...)}
				if role != nil {
					item["role"] = role
				}
				if dive != "" {
					item["dive_id"] = s.ids[dive]
				}
				items = append(items, item)
			}
		}
	}
	for chunk := range slices.Chunk(items, 100) {
		s.recorded(s.must(who, post, "/v1/sessions/"+s.ids[session]+"/drill-attempts",
			object{"items": chunk}))
	}
}

// signOffItems returns the sign-offs of skills for students.
func (s *story) signOffItems(dive string, students []string, skills ...skill) []object {
	var items []object
	for _, name := range students {
		for _, k := range skills {
			item := object{"id": newID(), "enrolment_id": s.ids["enrolment "+name], "skill": k.code}
			if dive != "" {
				item["dive_id"] = s.ids[dive]
			}
			items = append(items, item)
		}
	}
	return items
}

// sign signs skills off for students; every sign-off has to be accepted.
func (s *story) sign(who, session, dive string, students []string, skills ...skill) {
	for chunk := range slices.Chunk(s.signOffItems(dive, students, skills...), 100) {
		s.recorded(s.must(who, post, "/v1/sessions/"+s.ids[session]+"/sign-offs", object{"items": chunk}))
	}
}

// in returns the skills of a setting.
func (s *story) in(setting string) []skill {
	return slices.DeleteFunc(slices.Clone(s.skills), func(k skill) bool { return k.setting != setting })
}

func (s *story) skill(code string) skill {
	return s.skills[slices.IndexFunc(s.skills, func(k skill) bool { return k.code == code })]
}

// classroomAndPool plays Thursday and Friday.
func (s *story) classroomAndPool() {
	s.chapter(at(3, "17:00"), "Thursday evening: theory.")
	s.must("Ines", post, "/v1/sessions/"+s.ids["Theory evening"]+"/open", object{})
	s.callRoll("Ines", "Theory evening", at(3, "16:55"), nil)
	s.theory()
	s.must("Ines", post, "/v1/sessions/"+s.ids["Theory evening"]+"/close", object{})

	s.chapter(at(4, "08:00"), "Friday morning at the pool.")
	s.besideThePool()
	s.accepted("Ines", "/v1/sessions/"+s.ids["Pool 1"]+"/open", object{},
		"Ines opens the first pool session: everybody is briefed, all papers are in order, "+
			"both groups are cleared.")
	s.callRoll("Ines", "Pool 1", at(4, "07:55"), nil)
	s.must("Mara", post, "/v1/centre/set-clock", object{"now_at": at(4, "10:30")})
	s.gas()
	s.simulated()
	s.drills()
	half := s.in("confined")
	first, second := half[:len(half)/2], half[len(half)/2:]
	s.attempts("Ines", "Pool 1", at(4, "09:30"), "", s.blue(), first)
	s.attempts("Rui", "Pool 1", at(4, "09:30"), "", s.red(), first)
	s.signingAtThePool(first)
	s.must("Ines", post, "/v1/sessions/"+s.ids["Pool 1"]+"/close", object{"log_complete": true})
	s.afternoon(second)
	s.makeUp(second)
}

// theory marks all parts; Sami has to try one again.
func (s *story) theory() {
	parts := s.must("Ines", get, "/v1/built-in-syllabuses", nil).items()[0]["theory"].([]any)
	for _, name := range s.scenario.students {
		for i, p := range parts {
			percent := 88.0
			if name == "Sami" && i == 0 {
				percent = 60
			}
			s.must("Ines", post, "/v1/enrolments/"+s.ids["enrolment "+name]+"/theory-results",
				object{"part": p.(object)["code"], "percent": percent, "session_id": s.ids["Theory evening"],
					"witnessed_at": at(3, "16:50")})
		}
	}
	a := s.accepted("Ines", "/v1/enrolments/"+s.ids["enrolment Sami"]+"/theory-results",
		object{"part": parts[0].(object)["code"], "percent": 92, "session_id": s.ids["Theory evening"],
			"witnessed_at": at(3, "16:58")},
		"All parts are marked. Sami was below the pass mark in one, tried again, and passed.")
	s.expect(a.body["passed"] == true, "Sami's second try did not pass")
}

// gas plays looking, reporting and understanding.
func (s *story) gas() {
	s.logGasChecks("Ines", "reports")
	var verdicts []string
	for _, c := range s.must("Ines", get, "/v1/sessions/"+s.ids["Pool 1"]+"/gas-checks?participant_id="+
		s.participant("Pool 1", "Quinn"), nil).items() {
		verdicts = append(verdicts, fmt.Sprint(c["verdict"]))
	}
	slices.Sort(verdicts)
	s.expect(slices.Equal(verdicts, []string{"over_reported", "right"}),
		"Quinn's gas checks came out as %v", verdicts)
	s.note("Ines checks gas. Quinn's gauge shows 1750 psi: reported as 1800 it is marked over-reported, " +
		"as 1700 it is right.")
}

// simulated plays a low pressure in a drill: it is kept and shown as simulated, and
// raises no alarm.
func (s *story) simulated() {
	s.recorded(s.must("Ines", post, "/v1/sessions/"+s.ids["Pool 1"]+"/gas-checks",
		object{"items": []object{{"id": newID(), "participant_id": s.participant("Pool 1", "Nuno"),
			"reading": bar(30), "signalled": bar(30), "simulated": true, "witnessed_at": at(4, "09:14")}}}))
	d := s.watched("Pool 1", "Nuno")
	s.expect(d["simulated"] != nil && d["pending_response"] == nil,
		"a simulated low is not shown, or expects %v", d["pending_response"])
	s.expect(d["low_gas_pressure"] != nil, "nothing is held against Nuno's gauge")
	s.note("In a drill Ines holds up a slate with 30 bar. The watch shows it as simulated "+
		"and alarms nobody; any true reading is held against %s, planned or not.",
		amount(d["low_gas_pressure"]))
}

// failed plays a skill that was not met after it had been met: signing it off needs an
// acceptance with a reason.
func (s *story) failed(k skill) {
	s.recorded(s.must("Ines", post, "/v1/sessions/"+s.ids["Pool 1"]+"/drill-attempts",
		object{"items": []object{{"id": newID(), "participant_id": s.participant("Pool 1", "Nuno"),
			"skill": k.code, "met": false, "reason": "had to hold on to the side",
			"witnessed_at": at(4, "09:40")}}}))
	s.itemRefused("Ines", "/v1/sessions/"+s.ids["Pool 1"]+"/sign-offs",
		s.signOffItems("", []string{"Nuno"}, k)[0],
		"syllabus.failed_since",
		"At his second try at %q Nuno has to hold on to the side. Ines would have to accept that by name, "+
			"with a reason, to sign.", k.code)
	s.attempts("Ines", "Pool 1", at(4, "09:45"), "", []string{"Nuno"}, []skill{k})
	s.note("She lets him show it once more instead, and he does.")
}

// signingAtThePool plays who may sign, in which order, and eight sign-offs at once.
func (s *story) signingAtThePool(first []skill) {
	path := "/v1/sessions/" + s.ids["Pool 1"] + "/sign-offs"
	s.refused("Abel", post, path, object{"items": s.signOffItems("", []string{"Nuno"}, first[0])}, 403, "",
		"Abel, the assistant, wants to sign for Nuno.")
	s.itemRefused("Ines", path, s.signOffItems("", []string{"Nuno"}, s.skill("hover-open"))[0],
		"syllabus.confined_first",
		"Ines tries to sign Nuno's hover in open water, the day before the cove.")
	s.failed(first[0])
	blue := s.scenario.group("blue")
	s.recorded(s.must("Ines", post, path, object{"items": s.signOffItems("", blue.Students, first[0])}))
	s.tell("✓", "Ines signs %q for eight students in one call.", first[0].code)
	s.sign("Ines", "Pool 1", "", blue.WithAssistant, first[0])
	s.sign("Ines", "Pool 1", "", s.blue(), first[1:]...)
	s.sign("Rui", "Pool 1", "", s.red(), first...)
	s.note("%d skills are signed for twelve students, each by who saw it.", len(first))
}

// itemRefused makes a call with one item that has to be refused by a rule.
func (s *story) itemRefused(who, path string, wish object, rule, format string, args ...any) {
	a := s.must(who, post, path, object{"items": []object{wish}})
	r := a.items()[0]
	text := fmt.Sprintf(format, args...)
	problem, _ := r["problem"].(object)
	if r["status"] != "refused" || !byRule(problem, rule) {
		s.fail("%s: expected to be refused by %s, was %v", text, rule, r)
		return
	}
	s.tell("✗", "%s", text)
	s.why(problem, rule)
}

// afternoon plays the second pool session, which Tomas misses.
func (s *story) afternoon(second []skill) {
	s.chapter(at(4, "12:30"), "Friday afternoon: Tomas does not come back from lunch.")
	s.brief("Ines", "Pool 2", at(4, "12:25"))
	s.must("Ines", post, "/v1/sessions/"+s.ids["Pool 2"]+"/open", object{})
	s.callRoll("Ines", "Pool 2", at(4, "12:34"), map[string]string{"Tomas": "absent"})
	there := slices.DeleteFunc(s.blue(), func(n string) bool { return n == "Tomas" })
	s.must("Mara", post, "/v1/centre/set-clock", object{"now_at": at(4, "15:00")})
	s.attempts("Ines", "Pool 2", at(4, "14:00"), "", there, second)
	s.attempts("Rui", "Pool 2", at(4, "14:00"), "", s.red(), second)
	s.sign("Ines", "Pool 2", "", there, second...)
	s.sign("Rui", "Pool 2", "", s.red(), second...)
	s.must("Ines", post, "/v1/sessions/"+s.ids["Pool 2"]+"/close", object{})
	s.note("Roll call has him as absent. The others finish their pool skills.")
}

// makeUp plays how Tomas catches up in another course's session.
func (s *story) makeUp(second []skill) {
	s.must("Mara", post, "/v1/centre/set-clock", object{"now_at": at(4, "16:50")})
	s.accepted("Mara", "/v1/sessions/"+s.ids["Evening pool"]+"/participants",
		object{"role": "student", "enrolment_id": s.ids["enrolment Tomas"],
			"group_id": s.ids["Evening pool green"]},
		"He makes it up the same evening, in the evening course's session with Lars.")
	s.brief("Lars", "Evening pool", at(4, "16:45"))
	s.must("Lars", post, "/v1/sessions/"+s.ids["Evening pool"]+"/open", object{})
	s.callRoll("Lars", "Evening pool", at(4, "16:52"), nil)
	s.must("Mara", post, "/v1/centre/set-clock", object{"now_at": at(4, "18:50")})
	s.withoutCoverage(second[0])
	s.missedCheck()
	s.attempts("Lars", "Evening pool", at(4, "18:00"), "", []string{"Tomas"}, second[1:])
	s.sign("Lars", "Evening pool", "", []string{"Tomas"}, second[1:]...)
	s.must("Lars", post, "/v1/sessions/"+s.ids["Evening pool"]+"/close", object{})
	s.note("Lars signs what he saw, for Tomas' own course.")
}
