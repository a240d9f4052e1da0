package gaswatch

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// DrillRequest asks for a drill.
type DrillRequest struct {
	Seed         uint64
	Convention   signal.Convention
	Participants []uuid.UUID // in the order in which they are called; none: all students who are not away
	Pressures    []PressuresGiven
}

// PressuresGiven are a participant's turn and low-gas pressure as the caller
// gives them, where no confirmed plan has any.
type PressuresGiven struct {
	ParticipantID uuid.UUID
	Turn, Low     *units.Reading
}

// DrillScript is a drill for some students of a session. It is not kept.
type DrillScript struct {
	Cards    []signal.Card
	Students []DrillStudent
	Findings finding.List // what is left out, and what is to be said of the convention
}

// DrillStudent is one student of a drill: with what it was written for them.
type DrillStudent struct {
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	GaugeUnit     units.Unit
	Turn, Low     *units.Reading // nil: not known
	From          string         // where they come from: plan, request; "" when neither is known
	Back          []RepeatedMisreading
	LeftOut       []signal.Misreading
}

// RepeatedMisreading is a case that comes back since the student got it wrong before.
type RepeatedMisreading struct {
	Case    signal.Misreading
	Entry   uuid.UUID // the gas check or drill attempt
	Because string    // the verdict of the check, or the skill of the attempt
}

// WriteDrill writes a drill for the students of a session, called in turn, by
// signal.Script: what each got wrong in earlier gas checks and drill attempts of
// the same enrolment comes back. Nothing is stored: the same ask gives the same
// script, as long as nothing new was witnessed. For staff and programs, since a
// drill that the students have read is none.
func (s *Service) WriteDrill(ctx context.Context, by actor.Actor, session uuid.UUID,
	a DrillRequest) (out DrillScript, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		v, err := dayview.One(ctx, tx, session, dayview.Agreed|dayview.Taught)
		if err != nil {
			return err
		}
		parts, err := drilled(v, a.Participants)
		if err != nil {
			return err
		}
		learned, err := s.standings.LessonsOf(ctx, tx, v)
		if err != nil {
			return err
		}
		wrong, err := waterview.ReadMistakes(ctx, tx, enrolmentsIn(parts))
		if err != nil {
			return err
		}
		if out.Students, err = students(parts, a, wrong, learned); err != nil {
			return err
		}
		for i := range out.Students {
			out.Students[i].plan(AgreedIn(v))
		}
		return out.write(a)
	})
	return out, err
}

// drilled returns the participants of the drill in the order in which they are
// called.
func drilled(v dayview.View, ids []uuid.UUID) (out []dayview.Participant, err error) {
	for i, id := range ids {
		p, there := v.Participant(id)
		if !there || p.EnrolmentID == nil {
			return nil, fault.UnknownReference("student of this session", fmt.Sprintf("/participant_ids/%d", i))
		}
		out = append(out, p)
	}
	if len(ids) > 0 {
		return out, nil
	}
	for _, p := range v.Participants {
		if p.EnrolmentID != nil && p.Attendance != dayview.Absent && p.Attendance != dayview.SatOut &&
			p.Attendance != dayview.LeftEarly {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, byNameThenID)
	return out, nil
}

// casesOf returns the cases that bring a mistake back.
func casesOf(m waterview.Mistake, y syllabus.Syllabus) (cases []signal.Misreading, because string) {
	if m.Verdict == nil {
		return skillCases(y, *m.Skill, m.Role), *m.Skill
	}
	if r := m.Reading; r != nil {
		if c := signal.MisreadingOf(*r); c != "" {
			return []signal.Misreading{c}, *m.Verdict
		}
	}
	return []signal.Misreading{signal.RoundDown}, *m.Verdict // a report as any other
}

// casesBySkill has what a drill can do about the gas skills of the built-in
// syllabus, by code. A centre's own skills count by the skill that they repeat
// and by the role in which they were tried.
var casesBySkill = map[string][]signal.Misreading{
	"gauge-reading": {signal.RoundDown},
	"gas-report":    {signal.RoundDown, signal.SixToNine},
	"low-gas":       {signal.AtLow, signal.PartnerLow},
	"shared-ascent": {signal.PartnerOut, signal.OwnOut},
}

func skillCases(y syllabus.Syllabus, code string, role *string) []signal.Misreading {
	k := y.Skill(code)
	if k == nil || !k.TouchesGas {
		return nil
	}
	if role == nil && len(k.Roles) == 1 {
		role = new(string(k.Roles[0]))
	}
	switch {
	case role != nil && syllabus.Role(*role) == syllabus.Donor:
		return []signal.Misreading{signal.PartnerOut}
	case role != nil && syllabus.Role(*role) == syllabus.Receiver:
		return []signal.Misreading{signal.OwnOut}
	case k.Repeats != "":
		return casesBySkill[k.Repeats]
	}
	return casesBySkill[code]
}

// students gathers what the drill of each is written with.
func students(parts []dayview.Participant, a DrillRequest, wrong map[uuid.UUID][]waterview.Mistake,
	learned standing.Lessons) ([]DrillStudent, error) {
	out := make([]DrillStudent, len(parts))
	at := map[uuid.UUID]*DrillStudent{}
	for i, p := range parts {
		out[i] = DrillStudent{ParticipantID: p.ID, PersonID: p.PersonID, Name: p.PersonName, GaugeUnit: p.GaugeUnit}
		at[p.ID] = &out[i]
		for _, m := range wrong[*p.EnrolmentID] {
			cases, because := casesOf(m, learned.Of(*p.EnrolmentID))
			for _, c := range cases {
				out[i].back(RepeatedMisreading{c, m.EntryID, because})
			}
		}
	}
	for i, g := range a.Pressures {
		d := at[g.ParticipantID]
		if d == nil {
			return nil, fault.UnknownReference("student of this drill",
				fmt.Sprintf("/pressures/%d/participant_id", i))
		}
		where := fmt.Sprintf("/pressures/%d", i)
		if err := cmp.Or(CheckPressure(g.Turn, nil, where+"/turn"),
			CheckPressure(g.Low, nil, where+"/low")); err != nil {
			return nil, err
		}
		d.Turn, d.Low, d.From = g.Turn, g.Low, "request"
	}
	return out, nil
}

// plan takes the pressures of the plan of record, for all of the session or else for
// the first of its dives. They count before those of the request.
func (d *DrillStudent) plan(all Agreed) {
	least := math.MaxInt
	for _, a := range all.planned(d.ParticipantID) {
		number, there := all.number(a.dive)
		if there && number < least {
			least = number
			d.Turn, d.Low, d.From = a.Turn, a.Low, "plan"
		}
	}
}

// back notes a case once, for the last mistake of its kind.
func (d *DrillStudent) back(c RepeatedMisreading) {
	d.Back = append(slices.DeleteFunc(d.Back, func(b RepeatedMisreading) bool { return b.Case == c.Case }), c)
}

// write deals the cards. A convention that can show no number refuses.
func (s *DrillScript) write(a DrillRequest) error {
	group := make([]signal.Trainee, len(s.Students))
	for i := range s.Students {
		d := &s.Students[i]
		t := signal.Trainee{ID: d.ParticipantID.String(), Gauge: d.GaugeUnit, Turn: orZero(d.Turn),
			Low: orZero(d.Low)}
		d.LeftOut = t.LeftOut()
		d.Back = slices.DeleteFunc(d.Back,
			func(b RepeatedMisreading) bool { return slices.Contains(d.LeftOut, b.Case) })
		for _, b := range d.Back {
			t.Missed = append(t.Missed, b.Case)
		}
		for _, c := range d.LeftOut {
			s.Findings = append(s.Findings,
				signal.NotPlanned(c, d.Name, finding.Subject{Type: "participant", ID: t.ID}))
		}
		group[i] = t
	}
	cards, refused := signal.Script(a.Seed, a.Convention, group)
	if refused.Forbids() {
		return fault.RefusedBy(refused)
	}
	s.Cards, s.Findings = cards, append(s.Findings, a.Convention.Examine()...)
	return nil
}

func orZero(r *units.Reading) units.Reading {
	if r == nil {
		return units.Reading{}
	}
	return *r
}

func byNameThenID(a, b dayview.Participant) int {
	return cmp.Or(cmp.Compare(a.PersonName, b.PersonName), slices.Compare(a.ID[:], b.ID[:]))
}

// enrolmentsIn returns the enrolments of students.
func enrolmentsIn(parts []dayview.Participant) []uuid.UUID {
	out := make([]uuid.UUID, len(parts))
	for i, p := range parts {
		out[i] = *p.EnrolmentID
	}
	return out
}
