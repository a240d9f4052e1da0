package demo

import (
	"fmt"
	"strings"
)

// drills plays looking and reporting before it counts: a drill for two students, and
// practice on one's own phone.
func (s *story) drills() {
	quinn, nuno := s.participant("Pool 1", "Quinn"), s.participant("Pool 1", "Nuno")
	path := "/v1/sessions/" + s.ids["Pool 1"] + "/drill-scripts"
	ask := object{"convention": "digits_psi", "seed": 1750, "participant_ids": []string{quinn, nuno},
		"pressures": []object{{"participant_id": nuno, "turn": object{"value": 100, "unit": "bar"},
			"low": object{"value": 55, "unit": "bar"}}}}
	a := s.must("Ines", post, path, ask)
	cards, students := objects(a.body["cards"]), objects(a.body["students"])
	back, _ := students[0]["came_back"].([]any)
	s.expect(len(back) == 1 && back[0].(object)["because"] == "over_reported",
		"Quinn's wrong report does not come back: %v", back)
	s.expect(fmt.Sprint(s.must("Ines", post, path, ask).body) == fmt.Sprint(a.body),
		"the same seed gave another drill")
	s.tell("✓", "Ines has a drill written for Quinn and Nuno: %d cards in turn, each in the unit of the own "+
		"gauge. Quinn's wrong report comes back.", len(cards))
	for _, c := range cards[:2] {
		s.note("  %s: the gauge shows %s. %s", c["person_name"], amount(c["reading"]),
			strings.Trim(fmt.Sprint(c["expect"]), "[]"))
	}
	q := s.must("Nuno", get, "/v1/practice/question?convention=digits_bar&seed=134", nil)
	judge := func(gestures ...string) string {
		return fmt.Sprint(s.must("Nuno", post, "/v1/practice/answers",
			object{"convention": "digits_bar", "seed": 134, "gestures": gestures}).body["verdict"])
	}
	high, right := judge("fingers_1", "sideways_4"), judge("fingers_1", "sideways_3")
	s.expect(high == "over_reported" && right == "right", "practice judged Nuno %s and %s", high, right)
	s.note("Nuno practises on his phone. %s He shows 1 and 9, more than there is; then 1 and 8, "+
		"which is right.", q.body["ask"])
}

// amount returns a quantity in words.
func amount(q any) string {
	o, _ := q.(object)
	return fmt.Sprintf("%v %v", o["value"], o["unit"])
}
