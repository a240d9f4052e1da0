package demo

import (
	"fmt"
	"slices"
	"strings"
)

// briefing is the body of a briefing at an instant, for everybody of a session.
func (s *story) briefing(when string) object {
	return object{"briefed_at": when, "convention": "tee_bar", "check_every": object{"value": 2, "unit": "min"},
		"pressures": object{"start": object{"value": 200, "unit": "bar"}, "turn": object{"value": 120, "unit": "bar"}, "low": object{"value": 60, "unit": "bar"}},
		"roles": []object{{"role": "lead", "person_id": s.people["Ines"]}, {"role": "last", "person_id": s.people["Rui"]},
			{"role": "oxygen", "name": "the front desk"}, {"role": "radio", "name": "the front desk"}}}
}

// brief briefs a session, and enters who said that they understood: everybody
// but those named.
func (s *story) brief(who, session, when string, but ...string) {
	b := s.briefing(when)
	var heard []object
	for _, p := range s.must(who, get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if !slices.Contains(but, strings.Fields(fmt.Sprint(p["person_name"]))[0]) {
			heard = append(heard, object{"person_id": p["person_id"], "how": "said_so"})
		}
	}
	b["heard"] = heard
	s.must(who, post, "/v1/sessions/"+s.ids[session]+"/briefings", b)
}

// besideThePool is the first briefing: Quinn learned other signals elsewhere, and
// the session does not open before the last one has said that it is understood.
func (s *story) besideThePool() {
	b := s.briefing(at(4, "07:50"))
	var heard, people []object
	for _, p := range s.must("Ines", get, "/v1/sessions/"+s.ids["Pool 1"]+"/participants", nil).items() {
		name, one := strings.Fields(fmt.Sprint(p["person_name"]))[0], object{"person_id": p["person_id"]}
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
	s.note("Ines briefs beside the pool: a T for 100 bar and the rest by digits, gas checks every two minutes, turn at 120 bar, low at 60.")
	s.expect(byRule(a.body, "planning.knows_other_convention"), "nobody noticed that Quinn learned other signals")
	for _, p := range a.body["people"].([]any) {
		if q := p.(object); strings.HasPrefix(fmt.Sprint(q["name"]), "Quinn") {
			s.differs(q)
		}
	}
	opening := "/v1/sessions/" + s.ids["Pool 1"] + "/open"
	s.refused("Ines", post, opening, object{}, 422, "sessions.not_briefed", "She opens the session, and two have not said that they understood.")
	s.must("Nuno", post, "/v1/briefings/"+a.id()+"/acknowledge", nil)
	s.note("Nuno acknowledges on his own phone. Quinn shows each sign both ways, and Ines enters it.")
	s.recorded(s.must("Ines", post, "/v1/briefings/"+a.id()+"/acknowledgements", object{"items": []object{
		{"id": newID(), "person_id": s.people["Quinn"], "how": "signalled", "witnessed_at": at(4, "07:58")}}}))
	s.ids["briefing"] = a.id()
}

// differs tells what Quinn has to learn anew, and how her low-gas pressure looks.
func (s *story) differs(quinn object) {
	for _, x := range quinn["differences"].([]any) {
		if d := x.(object); d["what"] == "tee" {
			s.tell("!", "Quinn was trained elsewhere: a T is %v here, and asks for %v there. It is pointed out.", d["here"], d["there"])
		}
	}
	figures := quinn["figures"].([]any)[0].(object)
	low := figures["low"].(object)["shown"].(object)
	s.note("Her gauge shows psi: she signals low on gas at %v psi, %v.", low["reading"].(object)["value"], low["text"])
}
