// Package pooltest prepares a course with sessions under way for tests of what is recorded
// in the water, watched and assessed. Only tests import it.
//
// It owns what is common to them: a confined-water and an open-water session, and helpers
// that record, sign and read. It must not know what a test expects.
package pooltest

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/scenetest"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/versions"
	"tankside/internal/watercheck"
	"tankside/internal/waterlog"
	"tankside/internal/waterview"
)

// Pool is a course with a confined-water session under way and an open-water session
// under way the day after; one instructor and an assistant on both, students in both.
type Pool struct {
	*scenetest.Fixture
	Waterlog    *waterlog.Service
	Gaswatch    *gaswatch.Service
	Assessment  *assessment.Service
	Standings   *standing.Reader
	Check       *watercheck.Checker
	Instructor  uuid.UUID
	Assistant   uuid.UUID
	By          actor.Actor // the instructor, as the caller
	CourseID    uuid.UUID
	Confined    uuid.UUID
	Open        uuid.UUID
	OpenDives   []uuid.UUID // of the open-water session
	Enrolments  []uuid.UUID
	InConfined  map[uuid.UUID]uuid.UUID // participants by enrolment
	InOpen      map[uuid.UUID]uuid.UUID
	WitnessedAt time.Time
}

func New(t *testing.T, students int) *Pool {
	t.Helper()
	p := &Pool{Fixture: scenetest.New(t), InConfined: map[uuid.UUID]uuid.UUID{},
		InOpen: map[uuid.UUID]uuid.UUID{}}
	p.Standings = standing.New(versions.New[syllabus.Syllabus]())
	p.Gaswatch = gaswatch.New(p.DB.DB, p.Standings)
	p.Check = watercheck.New(p.Standings, p.Gaswatch)
	p.Waterlog = waterlog.New(p.DB.DB, p.Standings, p.Gaswatch)
	p.Assessment = assessment.New(p.DB.DB, p.Standings)
	p.Clock(time.Date(2026, 6, 7, 18, 0, 0, 0, time.UTC))
	p.WitnessedAt = time.Date(2026, 6, 6, 10, 0, 0, 0, time.UTC)
	p.Instructor, p.Assistant = p.Crew("Ines Instructor", "instructor"), p.Crew("Abel Assistant", "assistant")
	p.By = p.As(p.Instructor)
	p.CourseID = p.Course(syllabus.BuiltIn())
	p.Confined = p.Session(p.CourseID, "confined", "2026-06-06T09:00:00Z", "under_way")
	p.Open = p.Session(p.CourseID, "open", "2026-06-07T09:00:00Z", "under_way", 1, 2)
	p.OpenDives = p.Dives(p.Open)
	for _, s := range []uuid.UUID{p.Confined, p.Open} {
		g := p.Group(s, "blue", p.Instructor)
		p.Participant(s, &g, p.Assistant, nil, "assistant")
		for i := range students {
			if s == p.Confined {
				p.Enrolments = append(p.Enrolments,
					p.Enrol(p.CourseID, p.Student(fmt.Sprintf("Student %02d", i+1), "1995-05-05")))
			}
			e := p.Enrolments[i]
			part := p.Participant(s, &g, p.PersonOf(e), &e, "student")
			if s == p.Confined {
				p.InConfined[e] = part
			} else {
				p.InOpen[e] = part
			}
		}
	}
	return p
}

// Attempt records a met attempt with every measure at its limit.
func (p *Pool) Attempt(t *testing.T, session, participant uuid.UUID, skill string, dive *uuid.UUID) {
	t.Helper()
	k := syllabus.BuiltIn().Skill(skill)
	roles := []*string{nil}
	if len(k.Roles) > 0 {
		roles = nil
		for _, r := range k.Roles {
			roles = append(roles, new(string(r)))
		}
	}
	measures := k.Criterion.Measures
	if len(k.Criterion.EitherOf) > 0 {
		measures = append(slices.Clone(measures), k.Criterion.EitherOf[0].Measures...)
	}
	var list []waterlog.Measured
	for _, m := range measures {
		q := m.AtLeast
		if q == nil {
			q = m.AtMost
		}
		list = append(list, waterlog.Measured{Name: m.Name, Value: q.Value, Unit: q.Unit})
	}
	for _, role := range roles {
		out, err := p.Waterlog.LogAttempts(t.Context(), p.By, session,
			[]waterlog.Attempt{{ID: uuid.New(), ParticipantID: participant, DiveID: dive, Skill: skill,
				Role: role, Measures: list, Met: true, WitnessedAt: p.WitnessedAt}})
		require.NoError(t, err)
		require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	}
}

func (p *Pool) Sign(t *testing.T, session uuid.UUID, wishes ...assessment.Signing) []journal.Result {
	t.Helper()
	for i := range wishes {
		if wishes[i].ID == uuid.Nil {
			wishes[i].ID = uuid.New()
		}
	}
	out, err := p.Assessment.SignOff(t.Context(), p.By, session, wishes)
	require.NoError(t, err)
	return out
}

func Gas(participant uuid.UUID, read, said *units.Reading, at time.Time) waterlog.GasCheck {
	return waterlog.GasCheck{ID: uuid.New(), ParticipantID: participant, Reading: read, Signalled: said,
		WitnessedAt: at}
}

// OpenSkill is an open-water skill with a confined-water counterpart.
func OpenSkill() string {
	for _, k := range syllabus.BuiltIn().Skills {
		if k.Setting == syllabus.Open && k.Repeats != "" && k.EarliestDive <= 2 {
			return k.Code
		}
	}
	panic("no such skill")
}

// First is a confined-water skill that nothing comes before.
func First() string {
	y := syllabus.BuiltIn()
	for _, k := range y.Skills {
		if k.Setting == syllabus.Confined && len(y.Before(k.Code)) == 0 {
			return k.Code
		}
	}
	panic("no such skill")
}

// Verified holds the ledger against the rows.
func (p *Pool) Verified(t *testing.T) {
	t.Helper()
	report, err := ledger.Verify(t.Context(), p.DB.DB, p.Centre,
		ledger.Join(waterview.Ledger, assessment.Ledger, journal.Ledger))
	require.NoError(t, err)
	require.Empty(t, report.Problems)
}

// Signed insists that every wish was signed.
func (p *Pool) Signed(t *testing.T, session uuid.UUID, wishes ...assessment.Signing) []journal.Result {
	t.Helper()
	out := p.Sign(t, session, wishes...)
	for _, r := range out {
		require.Equal(t, journal.Recorded, r.Status, "%+v", r.Refusal)
	}
	return out
}
