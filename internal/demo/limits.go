package demo

import (
	"fmt"
	"slices"
)

// limits plays an instructor who would make four descents in a day, and what a
// student's dives show about his breathing rate.
func (s *story) limits() {
	s.descents()
	s.learned()
}

// descents reads Ines's Monday, before two pool sessions of another course become
// hers too.
func (s *story) descents() {
	s.chapter(at(7, "11:00"), "Monday noon: could Ines take the evening course's two hours at "+
		"the pool as well?")
	for _, title := range []string{"Evening pool 2", "Evening pool 3"} {
		s.session("evenings", title)
		s.group(title, "green", "Ines")
	}
	day := "/v1/people/" + s.people["Ines"].String() + "/days/2027-06-07/dives"
	a := s.must("Mara", get, day, nil)
	s.dayOf(a, 4)
	s.tell("!", "Four descents in a day, with three groups of two courses, ask for caution.")
	s.expect(s.hasFinding(a.body, "nostop.many_dives"), "four dives in a day ask for no caution")
	s.why(a.body, "nostop.many_dives")
	s.accepted("Mara", "/v1/groups/"+s.ids["Evening pool 3 green"]+"/replace-instructor",
		object{"person_id": s.people["Rui"]},
		"Mara gives the last hour to Rui, who dived twice that day too.")
	a = s.must("Mara", get, day, nil)
	s.expect(!s.hasFinding(a.body, "nostop.many_dives"), "three dives in a day still ask for caution")
	s.note("Ines has three dives now. %s", a.body["caution"])
}

// dayOf prints a person's dives of a day.
func (s *story) dayOf(a answer, want int) {
	dives, _ := a.body["dives"].([]any)
	s.expect(len(dives) == want, "the day has %d dives, not %d", len(dives), want)
	for _, x := range dives {
		d := x.(object)
		n := d["no_stop"].(object)
		state := "planned"
		if n["done"] == true {
			state = "done"
		}
		before, limit := n["group_before"], "no limit"
		if before == nil {
			before = "-"
		}
		if m, ok := n["longest"].(object); ok {
			limit = fmt.Sprintf("%v %v at most", m["value"], m["unit"])
		}
		depth, under := n["depth"].(object), n["under_time"].(object)
		fmt.Fprintf(s.out, "      %-8s %-15s in %s  %5v %v  %3v %v  group %v to %v, %s\n", state,
			d["session_title"], fmt.Sprint(n["in_local"])[11:],
			depth["value"], depth["unit"], under["value"], under["unit"], before, n["group_after"], limit)
	}
	if f, ok := a.body["flying"].(object); ok {
		fmt.Fprintf(s.out, "      no flight before %v, by the clock there\n", f["earliest_local"])
	}
}

// hasFinding reports whether an answer has a finding of a rule.
func (s *story) hasFinding(body object, rule string) bool {
	return slices.ContainsFunc(found(body), func(f object) bool { return f["rule"] == rule })
}

// learned compares the breathing rate that is planned for a novice with the one for
// Nuno after the weekend.
func (s *story) learned() {
	rate := "/v1/people/" + s.people["Nuno"].String() + "/breathing-rate"
	litres := func(a answer, of string) float64 {
		x, _ := a.body[of].(object)["litres"].(object)["value"].(float64)
		return x
	}
	fresh := s.must("Mara", get, "/v1/people/"+s.people["Kim"].String()+"/breathing-rate", nil)
	s.expect(fresh.body["novice"] == true, "Kim, who has not dived at the cove, is no novice")
	a := s.must("Nuno", get, rate, nil)
	dives, _ := a.body["dives"].([]any)
	s.expect(a.body["novice"] == false && litres(a, "planned") < litres(fresh, "planned"),
		"nothing was learned of Nuno's breathing rate: %s", a.text)
	s.tell("·", "Kim has no dive to learn from and is planned with %.1f L/min, a novice's value; Nuno, "+
		"after %d dives, with %.1f L/min, and usually needs %.1f.",
		litres(fresh, "planned"), len(dives), litres(a, "planned"), litres(a, "typical"))
	misread := 0
	for _, d := range dives {
		list, _ := d.(object)["misread"].([]any)
		misread += len(list)
	}
	s.expect(misread == 1, "%d readings of Nuno's gauge were left out as misread, not 1", misread)
	s.note("One of the looks at his gauge was left out: the others contradict it.")
}
