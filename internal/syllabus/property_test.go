package syllabus_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tankside/internal/syllabus"
)

// In any order that keeps to the prerequisites, every skill can be signed off,
// and the course can then be completed.
func TestAnyOrderThatKeepsToThePrerequisitesLeadsToCompletion(t *testing.T) {
	s := syllabus.BuiltIn()
	rapid.Check(t, func(t *rapid.T) {
		done := finished(s)
		st := syllabus.Standing{Enrolment: done.Enrolment, State: done.State, Theory: done.Theory,
			Dives: done.Dives}
		stand := map[string]bool{}
		for len(stand) < len(s.Skills) {
			k := rapid.SampledFrom(ready(s, stand)).Draw(t, "skill")
			on := friday
			if k.Setting == syllabus.Open {
				on = sunday
			}
			c := sign(s, st, k.Code, on)
			if found := syllabus.MaySign(c); len(found) > 0 {
				t.Fatalf("%s: %s", k.Code, found[0].Message)
			}
			st, stand[k.Code] = record(c), true
		}
		if found := syllabus.MayComplete(completing(s, st)); len(found) > 0 {
			t.Fatalf("completion: %s", found[0].Message)
		}
	})
}

// ready gives the skills that do not stand and whose prerequisites all do.
func ready(s syllabus.Syllabus, stand map[string]bool) []syllabus.Skill {
	var out []syllabus.Skill
	for _, k := range s.Skills {
		if !stand[k.Code] && !slices.ContainsFunc(s.Before(k.Code), func(p string) bool { return !stand[p] }) {
			out = append(out, k)
		}
	}
	return out
}

// record adds the sign-off of the case to its standing.
func record(c syllabus.SignOffRequest) syllabus.Standing {
	st := c.Standing
	st.SignOffs = append(st.SignOffs[:len(st.SignOffs):len(st.SignOffs)], syllabus.SignOff{
		ID: fmt.Sprintf("so-%d",
			len(st.SignOffs)), Skill: c.Skill, Signer: c.Signer.Person, On: c.On, Evidence: c.Evidence})
	return st
}

// Whatever is signed, voided and credited in whichever order: nothing is signed
// off in open water while its confined-water skill does not stand; progress says
// signed off of exactly what has a standing sign-off; and the course completes
// exactly when everything stands.
func TestNoHistoryGetsRoundTheOrder(t *testing.T) {
	s := syllabus.BuiltIn()
	rapid.Check(t, func(t *rapid.T) {
		h := history{s: s, st: finished(s), signed: map[string]bool{}, credited: map[string]bool{}}
		for _, k := range s.Skills {
			h.signed[k.Code] = true
		}
		if rapid.Bool().Draw(t, "from the start") {
			h.st.SignOffs, h.st.Attempts, h.signed = nil, nil, map[string]bool{}
		}
		t.Repeat(map[string]func(*rapid.T){"sign": h.sign, "void": h.void, "credit": h.credit, "": h.check})
	})
}

// history is what a test did to one enrolment, with its own book of what stands.
type history struct {
	s                syllabus.Syllabus
	st               syllabus.Standing
	signed, credited map[string]bool
}

func (h *history) stands(code string) bool { return h.signed[code] || h.credited[code] }

func (h *history) sign(t *rapid.T) {
	k := rapid.SampledFrom(h.s.Skills).Draw(t, "skill")
	on := friday
	if k.Setting == syllabus.Open {
		on = sunday
	}
	c := sign(h.s, h.st, k.Code, on)
	if syllabus.MaySign(c).Forbids() {
		return
	}
	if k.Repeats != "" && !h.stands(k.Repeats) {
		t.Fatalf("%s signed off while %s does not stand", k.Code, k.Repeats)
	}
	for _, p := range k.Prerequisites {
		if !h.stands(p) {
			t.Fatalf("%s signed off while %s does not stand", k.Code, p)
		}
	}
	if k.Setting == syllabus.Open && (!h.stands("swim") || !h.stands("float")) {
		t.Fatalf("%s signed off before the watermanship", k.Code)
	}
	h.st, h.signed[k.Code] = record(c), true
}

func (h *history) void(t *rapid.T) {
	code := rapid.SampledFrom(h.s.Skills).Draw(t, "skill").Code
	voidIn(&h.st, code)
	h.signed[code] = false
}

func (h *history) credit(t *rapid.T) {
	code := rapid.SampledFrom(h.s.Skills).Draw(t, "skill").Code
	h.credited[code] = rapid.Bool().Draw(t, "credited")
	for i := range h.st.Credits {
		h.st.Credits[i].Voided = h.st.Credits[i].Voided || h.st.Credits[i].Skill == code
	}
	if h.credited[code] {
		h.st.Credits = append(h.st.Credits,
			syllabus.Credit{ID: fmt.Sprintf("credit-%d", len(h.st.Credits)), Skill: code, On: thursday})
	}
}

func (h *history) check(t *rapid.T) {
	whole := true
	for _, p := range syllabus.ProgressOf(h.s, h.st).Skills {
		if (p.State == syllabus.SignedOff) != h.signed[p.Code] {
			t.Fatalf("%s is %s, signed off: %v", p.Code, p.State, h.signed[p.Code])
		}
		whole = whole && h.stands(p.Code)
	}
	if complete := !syllabus.MayComplete(completing(h.s, h.st)).Forbids(); complete != whole {
		t.Fatalf("may be completed: %v, everything stands: %v", complete, whole)
	}
}
