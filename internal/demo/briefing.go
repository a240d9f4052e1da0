package demo

import (
	"fmt"
	"slices"
	"strings"
)

// briefing returns the body of a briefing for all participants of a session, given at an
// instant.
func (s *story) briefing(session, when string) object {
	b := s.scenario.briefing
	var roles []object
	for _, r := range b.Roles {
		if r.Person != "" {
			roles = append(roles, object{"role": r.Role, "person_id": s.people[r.Person]})
		} else {
			roles = append(roles, object{"role": r.Role, "name": r.Name})
		}
	}
	return object{"briefed_at": when, "convention": b.Convention, "check_every": b.CheckEvery,
		"pressures": object{"start": b.Start, "turn": b.Turn, "low": b.Low[session]}, "roles": roles}
}

// brief briefs a session and records that all but the named participants understood
// it.
func (s *story) brief(who, session, when string, but ...string) {
	s.briefWith(s.briefing(session, when), who, session, but...)
}

// briefWith is brief with a body.
func (s *story) briefWith(b object, who, session string, but ...string) answer {
	var heard []object
	for _, p := range s.must(who, get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if !slices.Contains(but, firstName(fmt.Sprint(p["person_name"]))) {
			heard = append(heard, object{"person_id": p["person_id"], "how": "said_so"})
		}
	}
	b["heard"] = heard
	return s.must(who, post, "/v1/sessions/"+s.ids[session]+"/briefings", b)
}

// withoutLowGas plays a briefing without a low-gas pressure and one with too low a
// pressure: the session does not open with either.
func (s *story) withoutLowGas(opening string) {
	b := s.briefing("Cove 1", at(5, "07:17"))
	b["pressures"] = object{"turn": s.scenario.briefing.Turn}
	s.briefWith(b, "Ines", "Cove 1", "Abel", "Kim")
	s.refused("Ines", post, opening, object{}, 422, "planning.no_low_pressure_told",
		"Ines briefs on the quay and forgets to say at which pressure to signal low on gas.")
	b = s.briefing("Cove 1", at(5, "07:18"))
	b["pressures"] = object{"turn": s.scenario.briefing.Turn, "low": bar(30)}
	a := s.briefWith(b, "Ines", "Cove 1", "Abel", "Kim")
	s.expect(byRule(a.body, "gas.told_below_floor"), "nobody noticed that 30 bar is below the floor")
	s.refused("Ines", post, opening, object{}, 422, "gas.told_below_ascent",
		"\"Thirty bar\", she says: heard, and not enough for two to come up with.")
	s.note("She briefs again and tells them 70 bar, once for everybody; Rui's group has its " +
		"own from the plan.")
}

// besideThePool plays the first briefing: Quinn learned other signals elsewhere, and
// the session does not open before the last participant has understood it.
func (s *story) besideThePool() {
	b := s.briefing("Pool 1", at(4, "07:50"))
	var heard, people []object
	for _, p := range s.must("Ines", get, "/v1/sessions/"+s.ids["Pool 1"]+"/participants", nil).items() {
		name, one := firstName(fmt.Sprint(p["person_name"])), object{"person_id": p["person_id"]}
		if name == "Quinn" {
			one["knows"] = "digits_bar_tee_decompression"
		}
		if name != "Quinn" && name != "Nuno" {
			heard = append(heard, object{"person_id": p["person_id"], "how": "said_so"})
		}
		people = append(people, one)
	}
	b["people"], b["heard"] = people, heard
	a := s.must("Ines", post, "/v1/sessions/"+s.ids["Pool 1"]+"/briefings", b)
	s.note("Ines briefs beside the pool: a T for 100 bar and the rest by digits, gas checks every two " +
		"minutes, turn at 120 bar, low at 60.")
	s.expect(byRule(a.body, "planning.knows_other_convention"),
		"nobody noticed that Quinn learned other signals")
	for _, p := range a.body["people"].([]any) {
		if q := p.(object); strings.HasPrefix(fmt.Sprint(q["name"]), "Quinn") {
			s.differs(q)
		}
	}
	opening := "/v1/sessions/" + s.ids["Pool 1"] + "/open"
	s.refused("Ines", post, opening, object{}, 422, "sessions.not_briefed",
		"She opens the session, and two have not said that they understood.")
	s.must("Nuno", post, "/v1/briefings/"+a.id()+"/acknowledge", nil)
	s.note("Nuno acknowledges on his own phone. Quinn shows each sign both ways, and Ines enters it.")
	s.recorded(s.must("Ines", post, "/v1/briefings/"+a.id()+"/acknowledgements", object{"items": []object{
		{"id": newID(), "person_id": s.people["Quinn"], "how": "signalled",
			"witnessed_at": at(4, "07:58")}}}))
	s.ids["briefing"] = a.id()
}

// differs prints what Quinn has to relearn, and the signals of her low-gas pressure.
func (s *story) differs(quinn object) {
	for _, x := range quinn["differences"].([]any) {
		if d := x.(object); d["what"] == "tee" {
			s.tell("!", "Quinn was trained elsewhere: a T is %v here, and asks for %v there. "+
				"It is pointed out.", d["here"], d["there"])
		}
	}
	figures := quinn["figures"].([]any)[0].(object)
	low := figures["low"].(object)["shown"].(object)
	s.note("Her gauge shows psi: she signals low on gas at %v psi, %v.",
		low["reading"].(object)["value"], low["text"])
}
