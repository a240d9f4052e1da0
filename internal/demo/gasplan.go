package demo

import (
	"fmt"
	"slices"
	"strings"
)

// gasPlan plays Rui's gas plan of the first dive for the red group.
func (s *story) gasPlan() {
	s.note("Rui plans the gas of the red group's first dive: cylinders of 11.1 L, filled to 200 bar; " +
		"nothing is known yet of how much anybody breathes.")
	ask := s.redDivers()
	ask["group_id"], ask["dive_id"] = s.ids["Cove 1 red"], s.ids["Cove 1 dive 1"]
	ask["dive"] = object{"depth": metres(12), "planned_time": minutes(22)}
	first := s.must("Rui", post, "/v1/sessions/"+s.ids["Cove 1"]+"/plans", ask)
	s.refused("Rui", post, "/v1/plans/"+first.id()+"/confirm", object{}, 422, "gas.depth_over_person",
		"He plans to 12 m, as the training dive allows, and forgets the house rule: Minna is fifteen. "+
			"The plan is stored and not confirmed.")
	shallow := s.must("Rui", post, "/v1/plans/"+first.id()+"/replan",
		object{"reason": "the house rule", "dive": object{"depth": metres(9.5)}})
	s.must("Rui", post, "/v1/plans/"+shallow.id()+"/confirm", object{})
	s.accepted("Rui", "/v1/plans/"+first.id()+"/withdraw",
		object{"reason": "deeper than the house rule lets Minna go"},
		"He plans to 9.5 m instead, confirms that, and withdraws the first plan.")
	s.agreed(shallow)
	s.shortFill(shallow.id())
}

// redDivers returns the divers of a plan: the members of the red group who are present.
func (s *story) redDivers() object {
	var divers []object
	for _, p := range s.must("Rui", get, "/v1/sessions/"+s.ids["Cove 1"]+"/participants", nil).items() {
		if p["group_id"] != s.ids["Cove 1 red"] || !slices.Contains([]any{"present", "expected", "late"},
			p["attendance"]) {
			continue
		}
		divers = append(divers, s.planDiver(p["id"]))
	}
	return object{"divers": divers}
}

// planDiver returns a participant as a diver of a gas plan, with the cylinder that everybody
// has.
func (s *story) planDiver(participant any) object {
	c := s.scenario.cylinder
	return object{"participant_id": participant, "start": c.Start,
		"cylinder": object{"water_volume": c.WaterVolume, "working_pressure": c.WorkingPressure}}
}

// shortFill plays a cylinder with less gas in it: planned again, and accepted.
func (s *story) shortFill(plan string) {
	short := s.must("Rui", post, "/v1/plans/"+plan+"/replan",
		object{"reason": "short fill", "divers": []object{
			{"participant_id": s.participant("Cove 1", "Ida"), "start": bar(150)}}})
	for _, p := range short.body["difference"].(object)["people"].([]any) {
		if d := p.(object); strings.HasPrefix(fmt.Sprint(d["name"]), "Ida") {
			s.note("A short fill: Ida's gauge says 150 bar. Planned anew: start %s, low on gas %s, "+
				"gas for %s, expected back with %s.",
				beforeAndAfter(d["start"]), beforeAndAfter(d["low"]), beforeAndAfter(d["gas_time"]),
				beforeAndAfter(d["expected_end"]))
		}
	}
	confirm := "/v1/plans/" + short.id() + "/confirm"
	a := s.refused("Rui", post, confirm, object{}, 422, "gas.time_below_planned",
		"Confirming asks Rui to take on what is left open.")
	var accept []object
	for _, f := range found(a.body) {
		if f["severity"] == "caution" {
			accept = append(accept, object{"rule": f["rule"],
				"subject_id": f["subjects"].([]any)[0].(object)["id"],
				"reason":     "the group comes up when the first calls low on gas"})
		}
	}
	s.accepted("Rui", confirm, object{"accept": accept},
		"He does, by name and with his reason: the group comes up when the first calls low on gas. "+
			"The plan before is superseded.")
	before := s.must("Rui", get, "/v1/plans/"+plan, nil)
	s.expect(before.body["state"] == "superseded", "the plan confirmed before is %v", before.body["state"])
	s.printPlan(short.id())
}

// printPlan prints the gas of each diver on the plan of record, as the service prints it.
func (s *story) printPlan(plan string) {
	text := s.must("Rui", get, "/v1/plans/"+plan+"/sheet", nil, "Accept", "text/plain").text
	head, rest, _ := strings.Cut(text, "\n\n")
	table, _, _ := strings.Cut(rest, "\n\n")
	s.expect(strings.Contains(head, "Confirmed by Rui Castelo") && strings.HasPrefix(table, "Who has what"),
		"the plan of record is printed as %s", text)
	s.note("He prints it and pins it up in the van. From the page:")
	for line := range strings.Lines(table + "\n") {
		fmt.Fprint(s.out, "      ", line)
	}
}

// agreed prints what a plan asks of the group.
func (s *story) agreed(a answer) {
	plan := a.body["plan"].(object)
	group := plan["group"].(object)
	var lows []string
	for _, p := range plan["people"].([]any) {
		who := p.(object)
		lows = append(lows, fmt.Sprintf("%s %s", firstName(fmt.Sprint(who["name"])),
			amount(who["low"])))
	}
	s.tell("✓", "To 9.5 m it stands. Low on gas at: %s; latest start of the ascent after %s.",
		strings.Join(lows, ", "), amount(group["latest_ascent"]))
}

func metres(x float64) object  { return object{"value": x, "unit": "m"} }
func minutes(x float64) object { return object{"value": x, "unit": "min"} }
func bar(x float64) object     { return object{"value": x, "unit": "bar"} }

// beforeAndAfter returns a value before and after in words.
func beforeAndAfter(x any) string {
	o, _ := x.(object)
	if was, is := amount(o["before"]), amount(o["after"]); was != is {
		return was + " → " + is
	}
	return amount(o["after"])
}
