package syllabus_test

import (
	"fmt"

	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// The days of the invented course, in the order in which they come.
const (
	thursday = syllabus.Day("2026-06-04")
	friday   = syllabus.Day("2026-06-05")
	saturday = syllabus.Day("2026-06-06")
	sunday   = syllabus.Day("2026-06-07")
)

// nadia is an instructor whose papers are valid all weekend.
func nadia() syllabus.Signer {
	return syllabus.Signer{Person: "nadia", Instructor: true, Crew: true, Witnessed: true,
		Papers: []syllabus.Paper{
			{Kind: syllabus.TeachingStatus, From: "2026-01-01", Until: "2026-12-31"},
			{Kind: syllabus.FirstAid, From: "2025-03-10", Until: "2027-03-10"},
			{Kind: syllabus.Insurance, From: "2026-01-01", Until: "2026-12-31"},
		}}
}

// lastDive is the number of the last training dive of the built-in syllabus, on
// which every skill may be tried.
const lastDive = 4

// sign makes the case of a skill that was done well on that day: the session is
// in the skill's setting, and an attempt in each role is on record.
func sign(s syllabus.Syllabus, st syllabus.Standing, skill string, on syllabus.Day) syllabus.SignOffRequest {
	k := s.Skill(skill)
	c := syllabus.SignOffRequest{Syllabus: s, Skill: skill, Signer: nadia(), On: on, SignedOn: on,
		Session: syllabus.Session{ID: "session-" + string(on), Setting: k.Setting, State: syllabus.Closed}}
	if k.Setting == syllabus.Open {
		c.Dive = lastDive
	}
	for _, a := range attempts(*k, on, len(st.Attempts)) {
		a.Dive = c.Dive
		st.Attempts = append(st.Attempts[:len(st.Attempts):len(st.Attempts)], a)
		c.Evidence = append(c.Evidence, a.ID)
	}
	c.Standing = st
	return c
}

// attempts gives one good attempt at the skill in each of its roles.
func attempts(k syllabus.Skill, on syllabus.Day, from int) []syllabus.Attempt {
	roles := k.Roles
	if len(roles) == 0 {
		roles = []syllabus.Role{""}
	}
	var out []syllabus.Attempt
	for i, r := range roles {
		out = append(out, syllabus.Attempt{ID: fmt.Sprintf("attempt-%d", from+i), Skill: k.Code, Role: r,
			Measured: goodFigures(k), Met: true, WitnessedBy: "nadia", On: on, Setting: k.Setting})
	}
	return out
}

// goodFigures gives measured values that just meet the criterion, by the first
// of its ways.
func goodFigures(k syllabus.Skill) map[string]syllabus.Quantity {
	out := map[string]syllabus.Quantity{}
	measures := k.Criterion.Measures
	if len(k.Criterion.EitherOf) > 0 {
		measures = append(measures[:len(measures):len(measures)], k.Criterion.EitherOf[0].Measures...)
	}
	for _, m := range measures {
		if m.AtLeast != nil {
			out[m.Name] = *m.AtLeast
		} else {
			out[m.Name] = *m.AtMost
		}
	}
	return out
}

// signedOff gives an enrolment on which the named skills are signed off.
func signedOff(on syllabus.Day, skills ...string) syllabus.Standing {
	st := active()
	for _, k := range skills {
		st.SignOffs = append(st.SignOffs, syllabus.SignOff{ID: "so-" + k, Skill: k, Signer: "nadia", On: on})
	}
	return st
}

func active() syllabus.Standing {
	return syllabus.Standing{Enrolment: "enrolment-1", State: syllabus.Active}
}

// with gives the standing with everything before the skill signed off too.
func with(s syllabus.Syllabus, skill string, on syllabus.Day) syllabus.Standing {
	return signedOff(on, s.Before(skill)...)
}

func seconds(x float64) syllabus.Quantity { return syllabus.QuantityOf(x, units.UnitSecond) }
func metres(x float64) syllabus.Quantity  { return syllabus.QuantityOf(x, units.UnitMetre) }
func minutes(x float64) syllabus.Quantity { return syllabus.QuantityOf(x, units.UnitMinute) }
func percent(x float64) syllabus.Quantity { return syllabus.QuantityOf(x, units.UnitPercent) }

// finished gives an enrolment with everything of the syllabus done: theory on
// Thursday, confined water on Friday, two dives on each of the other days.
func finished(s syllabus.Syllabus) syllabus.Standing {
	st := active()
	for _, p := range s.Theory {
		st.Theory = append(st.Theory,
			syllabus.TheoryResult{ID: "result-" + p.Code, Part: p.Code, Mark: percent(90), On: thursday})
	}
	for _, k := range s.Skills {
		on := map[bool]syllabus.Day{true: sunday, false: friday}[k.Setting == syllabus.Open]
		so := syllabus.SignOff{ID: "so-" + k.Code, Skill: k.Code, Signer: "nadia", On: on}
		for _, a := range attempts(k, on, len(st.Attempts)) {
			st.Attempts, so.Evidence = append(st.Attempts, a), append(so.Evidence, a.ID)
		}
		st.SignOffs = append(st.SignOffs, so)
	}
	for n := 1; n <= lastDive; n++ {
		st.Dives = append(st.Dives, diveDone(n))
	}
	return st
}

// diveDone gives a training dive of 25 min to 10 m, two a day.
func diveDone(n int) syllabus.DiveDone {
	on := saturday
	if n > 2 {
		on = sunday
	}
	return syllabus.DiveDone{ID: fmt.Sprintf("dive-%d", n), Number: n, Depth: metres(10), Duration: minutes(25),
		Age: 30, On: on}
}
