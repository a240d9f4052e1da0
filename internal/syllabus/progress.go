package syllabus

import "tankside/internal/finding"

// State is a student's progress with one skill, theory part or dive.
type State string

// The states of a skill. A theory part and a dive end at Met or Credited; only
// skills are signed off.
const (
	NotTried  State = "not_tried"
	NotYet    State = "not_yet"    // tried, not yet met
	Met       State = "met"        // met, and not signed off; of theory: passed; of a dive: done
	SignedOff State = "signed_off" // by a standing sign-off
	Credited  State = "credited"   // done at another centre, not witnessed here
)

// Progress is a student's progress in one enrolment.
type Progress struct {
	Skills   []SkillProgress
	Theory   []TheoryProgress
	Dives    []DiveProgress
	DiveTime Quantity // of all training dives that count, in minutes
	Flags    finding.List
}

// SkillProgress is the student's progress with one skill.
type SkillProgress struct {
	Code     string
	State    State
	Attempts int          // those not voided
	SignOff  string       // id of the standing sign-off
	Credit   string       // id of the standing credit
	On       Day          // the day it was witnessed as signed off, credited, or last tried
	Blocks   []string     // codes of the open skills that come before; none once it stands
	Flags    finding.List // on what its sign-off rests on and does not stand
}

// TheoryProgress is the student's progress with one part of the theory.
type TheoryProgress struct {
	Code  string
	State State
	Best  Quantity // the best mark, zero when there is none
	On    Day      // of the best mark
}

// DiveProgress is the student's progress with one training dive.
type DiveProgress struct {
	Number int
	State  State  // NotYet: done in a way that does not count
	Dive   string // id of the dive that counts, or of the last that did not
	On     Day
	Blocks []string     // codes of the skills and theory parts that are open
	After  int          // an earlier training dive that is open, 0 for none
	Flags  finding.List // on why it does not count, or on what it rests on
}

// ProgressOf returns the student's progress with every skill, theory part and training dive, and
// what blocks each.
func ProgressOf(s Syllabus, st Standing) Progress {
	out := Progress{DiveTime: st.diveTime(s), Flags: Flags(s, st)}
	for i := range s.Skills {
		out.Skills = append(out.Skills, skillProgress(s, st, &s.Skills[i], out.Flags))
	}
	for i := range s.Theory {
		out.Theory = append(out.Theory, theoryProgress(st, &s.Theory[i]))
	}
	for i := range s.Dives {
		out.Dives = append(out.Dives, diveProgress(s, st, &s.Dives[i], out.Flags))
	}
	return out
}

func skillProgress(s Syllabus, st Standing, k *Skill, flags finding.List) SkillProgress {
	out := SkillProgress{Code: k.Code, State: NotTried}
	for _, a := range st.Attempts {
		if a.Skill == k.Code && !a.Voided {
			out.Attempts, out.State, out.On = out.Attempts+1, NotYet, max(out.On, a.On)
		}
	}
	if out.Attempts > 0 && k.metBy(st) {
		out.State = Met
	}
	if c := st.skillCredit(k.Code); c != nil {
		out.State, out.Credit, out.On = Credited, c.ID, c.On
	}
	if x := st.signOff(k.Code); x != nil {
		out.State, out.SignOff, out.On = SignedOff, x.ID, x.On
		out.Flags = about(flags, "sign_off", x.ID)
	}
	if out.State == SignedOff || out.State == Credited {
		return out
	}
	for _, code := range s.Before(k.Code) {
		if st.reached(code, "") == absent {
			out.Blocks = append(out.Blocks, code)
		}
	}
	return out
}

// metBy reports whether the attempts on record meet the skill, in each role.
func (k *Skill) metBy(st Standing) bool {
	did := map[Role]bool{}
	for _, a := range st.Attempts {
		if a.Skill == k.Code && k.unfit(a) == "" {
			did[a.Role] = true
		}
	}
	for _, r := range k.Roles {
		if !did[r] {
			return false
		}
	}
	return len(did) > 0
}

func theoryProgress(st Standing, p *TheoryPart) TheoryProgress {
	out := TheoryProgress{Code: p.Code, State: NotTried}
	for _, r := range st.Theory {
		if r.Part != p.Code || r.Voided {
			continue
		}
		if out.State == NotTried {
			out.State = NotYet
		}
		if Passed(*p, r.Mark) {
			out.State = Met
		}
		if out.Best.IsZero() || (r.Mark.sameKind(out.Best) && r.Mark.compare(out.Best) > 0) {
			out.Best, out.On = r.Mark, r.On
		}
	}
	if c := st.credited(func(c *Credit) bool { return c.Theory == p.Code }); c != nil && out.State != Met {
		out.State, out.On = Credited, c.On
	}
	return out
}

func diveProgress(s Syllabus, st Standing, t *TrainingDive, flags finding.List) DiveProgress {
	out := DiveProgress{Number: t.Number, State: NotTried}
	if c := st.diveCredit(t.Number); c != nil {
		out.State, out.On = Credited, c.On
	}
	for _, d := range st.Dives {
		if d.Number != t.Number || d.Voided || out.State == Met {
			continue
		}
		counts, found := JudgeDive(s, d)
		switch {
		case counts:
			out.State, out.Dive, out.On = Met, d.ID, d.On
			out.Flags = append(found, about(flags, "dive", d.ID)...)
		case out.State != Credited:
			out.State, out.Dive, out.On, out.Flags = NotYet, d.ID, d.On, found
		}
	}
	if out.State != Met && out.State != Credited {
		out.Blocks, out.After = diveBlocks(s, st, t.Number)
	}
	return out
}

// diveBlocks returns what is open before a training dive: the codes of skills and theory parts, and
// the number of the first training dive that is open, 0 for none.
func diveBlocks(s Syllabus, st Standing, number int) (codes []string, after int) {
	for _, code := range s.DiveBefore(number) {
		if s.stands(st, code, "") == absent {
			codes = append(codes, code)
		}
	}
	if n := NextDive(s, st); n < number {
		after = n
	}
	return codes, after
}
