package syllabus_test

import (
	"fmt"

	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// An instructor wants to sign off sharing gas in open water, and the student
// has not given gas in confined water yet.
func ExampleMaySign() {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "gas-giving-open", saturday), "gas-giving-open", sunday)
	fmt.Println("in order:", len(syllabus.MaySign(c)), "findings")

	voidSkill(&c, "gas-giving")
	for _, f := range syllabus.MaySign(c) {
		fmt.Println(f.Rule)
		fmt.Println(f.Message)
		fmt.Println("cure:", f.Cures[0].Message)
	}
	// Output:
	// in order: 0 findings
	// syllabus.confined_first
	// "Give gas in open water" (gas-giving-open) comes after "Give gas to a buddy who has none" (gas-giving), which is neither signed off nor credited.
	// cure: Sign off "Give gas to a buddy who has none" (gas-giving) first.
}

// A hover of 24 s was called met: the record says otherwise.
func ExampleJudgeAttempt() {
	hover := *syllabus.BuiltIn().Skill("hover")
	met, found := syllabus.JudgeAttempt(hover, syllabus.Attempt{
		Skill: "hover", Met: true,
		Measured: map[string]syllabus.Quantity{"time-hovering": syllabus.QuantityOf(24, units.UnitSecond)},
	})
	fmt.Println(met, found[0].Message)
	// Output: false "time-hovering" of "Hover" (hover) was 24 s: the criterion asks for at least 30 s.
}

// Only one of the two attempts counts as evidence for that day.
func ExampleEvidence() {
	s, st := syllabus.BuiltIn(), active()
	for i, held := range []float64{24, 35} {
		st.Attempts = append(st.Attempts,
			syllabus.Attempt{ID: fmt.Sprint("attempt ", i+1), Skill: "hover", Met: true, On: saturday,
				Setting: syllabus.Confined,
				Measured: map[string]syllabus.Quantity{"time-hovering": syllabus.QuantityOf(held,
					units.UnitSecond)}})
	}
	fmt.Println(syllabus.Evidence(s, st, "hover", saturday, saturday))
	// Output: [attempt 2]
}

// The signer voids an own sign-off that others rest on.
func ExampleMayVoid() {
	s := syllabus.BuiltIn()
	st := finished(s)
	c := syllabus.VoidRequest{Syllabus: s, Standing: st, By: nadia(), Reason: "it was the other student",
		SignOff: syllabus.SignOff{ID: "so-hover", Skill: "hover", Signer: "nadia", On: friday}}
	for _, f := range syllabus.MayVoid(c) {
		fmt.Println(f.Severity, f.Message)
	}
	// Output: note These stand on it, will be flagged and block completion until it is signed off again: hover-open.
}

// The third training dive, planned deeper than the age allows.
func ExampleMayDive() {
	c := onDive(3)
	c.Age, c.Depth = 11, metres(15)
	for _, f := range syllabus.MayDive(c) {
		fmt.Println(f.Rule, f.Message)
	}
	// Output: syllabus.depth_over_limit The dive is planned to 15 m; the limit is 12 m: under 12 on training dive 3.
}

func ExampleDepthLimit() {
	s := syllabus.BuiltIn()
	fmt.Println(syllabus.DepthLimit(s, 1, 30, metres(25)).Depth)
	fmt.Println(syllabus.DepthLimit(s, 4, 30, metres(25)).Depth)
	fmt.Println(syllabus.DepthLimit(s, 4, 11, metres(25)).Depth)
	fmt.Println(syllabus.DepthLimit(s, 4, 30, metres(9)).Why)
	// Output:
	// 12 m
	// 18 m
	// 12 m
	// the site is no deeper
}

// A dive of twelve minutes happened, and does not count.
func ExampleJudgeDive() {
	counts, found := syllabus.JudgeDive(syllabus.BuiltIn(),
		syllabus.DiveDone{Number: 1, Depth: metres(8), Duration: minutes(12), Age: 30})
	fmt.Println(counts, found[0].Message)
	// Output: false The dive lasted 12 min; it counts as training dive 1 from 15 min on.
}

func ExampleNextDive() {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Dives = st.Dives[:2]
	fmt.Println(syllabus.NextDive(s, st))
	// Output: 3
}

func ExamplePassed() {
	gas := *syllabus.BuiltIn().TheoryPart("gas-management")
	fmt.Println(syllabus.Passed(gas, percent(79)), syllabus.Passed(gas, percent(80)))
	// Output: false true
}

func ExampleProgressOf() {
	s := syllabus.BuiltIn()
	p := syllabus.ProgressOf(s,
		signedOff(friday, "swim", "float", "kit-check", "regulator-recovery", "weights"))
	for _, k := range p.Skills {
		if k.Code == "swim" || k.Code == "descent" || k.Code == "gas-report" {
			fmt.Println(k.Code, k.State, k.Blocks)
		}
	}
	// Output:
	// swim signed_off []
	// descent not_tried []
	// gas-report not_tried [gauge-reading descent]
}

// The evidence of a sign-off was voided after it: it stands, flagged.
func ExampleFlags() {
	s, st := syllabus.BuiltIn(), active()
	st.Attempts = []syllabus.Attempt{{ID: "attempt-1", Skill: "swim", Voided: true}}
	st.SignOffs = []syllabus.SignOff{{ID: "so-1", Skill: "swim", On: friday, Evidence: []string{"attempt-1"}}}
	for _, f := range syllabus.Flags(s, st) {
		fmt.Println(f.Rule, f.Message)
	}
	// Output: syllabus.basis_gone The sign-off of "Swim a distance" (swim) rests on evidence that was voided.
}

// One skill, one dive and a good deal of everything else is in order.
func ExampleMayComplete() {
	s := syllabus.BuiltIn()
	st := finished(s)
	st.Dives = st.Dives[:3]
	voidIn(&st, "own-dive")
	for _, f := range syllabus.MayComplete(completing(s, st)) {
		fmt.Println(f.Message)
	}
	// Output:
	// "Plan a dive and dive the plan" (own-dive) is met, but not signed off.
	// Training dive 4 is not done.
	// The training dives last 75 min in all; the syllabus asks for 80 min.
}

// A centre changes the order and makes a circle.
func ExampleValidate() {
	s := syllabus.BuiltIn()
	s.Skills[index(s, "swim")].Prerequisites = []string{"float"}
	s.Skills[index(s, "float")].Prerequisites = []string{"swim"}
	f := syllabus.Validate(s)[0]
	fmt.Println(f.Rule, f.Pointer)
	fmt.Println(f.Message)
	// Output:
	// syllabus.prerequisite_cycle /skills/0/prerequisites
	// "Swim a distance" (swim) comes before itself: swim after float after swim.
}

func ExampleSyllabus_Before() {
	fmt.Println(syllabus.BuiltIn().Before("gas-report-open"))
	// Output: [gas-report descent-open swim float]
}

func ExamplePaper_ValidOn() {
	p := syllabus.Paper{Kind: syllabus.FirstAid, From: "2024-06-06", Until: "2026-06-06"}
	fmt.Println(p.ValidOn("2026-06-06"), p.ValidOn("2026-06-07"))
	// Output: true false
}

func ExampleRules() {
	for _, r := range syllabus.Rules() {
		if r.ID == syllabus.ConfinedFirst.ID {
			fmt.Println(r.Title+":", r.Text)
		}
	}
	// Output: Confined water first: A skill is met in confined water before it is tried in open water.
}
