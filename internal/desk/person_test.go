package desk_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/centre"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/people"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// filled adds adults to the group of the open-water session.
func (c *counter) filled(n int) {
	for i := range n {
		other := c.Student(fmt.Sprintf("Other %d", i), "1990-01-01")
		e := c.Enrol(c.course, other)
		c.Participant(c.open, &c.group, other, &e, "student")
	}
}

// Active and insured, an assistant adds places: 8 to an instructor in open
// water, 10 with an assistant (three manuals, seen).
func TestAnAssistantWhosePaperIsVoidedCountsNoMore(t *testing.T) {
	c := newCounter(t)
	assistant := c.Person("Abel Assistant", "1985-03-01", "assistant")
	for _, kind := range []string{"teaching_status", "first_aid"} {
		c.Paper(assistant, kind, "valid", "2020-01-01", "2040-01-01")
	}
	insured := func() people.Paper {
		p, created, err := c.desk.RecordPaper(t.Context(), c.by,
			people.NewPaper{Key: once.New(), PersonID: assistant, Kind: "insurance", Outcome: "valid",
				IssuedOn: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)})
		require.NoError(t, err)
		require.True(t, created)
		return p
	}
	cleared := func() bool {
		return c.Count(`SELECT 1 FROM session_group WHERE id = '`+c.group.String()+`' AND cleared`) == 1
	}
	paper := insured()
	c.Participant(c.open, &c.group, assistant, nil, "assistant")
	c.filled(9)
	require.NoError(t, c.DB.InTx(t.Context(), c.Centre, func(ctx context.Context, tx *pg.Tx) error {
		_, err := c.sessions.Rejudge(ctx, c.by, tx, c.open, "the scene is set")
		return err
	}))
	require.True(t, cleared())
	_, err := c.desk.VoidPaper(t.Context(), c.by, paper.ID, "another person's")
	require.NoError(t, err)
	require.False(t, cleared())
	_, err = c.desk.VoidPaper(t.Context(), c.by, paper.ID, "again does no harm")
	require.NoError(t, err)
	insured()
	require.True(t, cleared(), "the paper that was lacking gives it back")
	require.Equal(t, 1, c.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'clearance_lost'`))
	require.Equal(t, 1, c.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'clearance_given'`))
}

// A centre that tightens its own limits judges the groups that are still to
// dive at once; what is over keeps what it was judged on. Whoever judged by the
// former limits meanwhile is caught at the opening.
func TestTighterLimitsTakeTheClearanceOfWhoIsStillToDive(t *testing.T) {
	c := newCounter(t)
	c.filled(3)
	done := c.Session(c.course, "open", "2026-06-05T08:00:00Z", "closed", 1)
	over := c.Group(done, "green", c.Crew("Gil Instructor", "instructor"))
	for i := range 3 {
		other := c.Student(fmt.Sprintf("Former %d", i), "1990-01-01")
		e := c.Enrol(c.course, other)
		c.Participant(done, &over, other, &e, "student")
	}
	cleared := func(group uuid.UUID) bool {
		return c.Count(`SELECT 1 FROM session_group WHERE id = '`+group.String()+`' AND cleared`) == 1
	}
	limit := func(version int64, places int) finding.List {
		house := &ratio.Book{Title: "House limits", Source: "the centre's own",
			Lines: []ratio.Line{{Title: "everybody", Settings: []ratio.Setting{ratio.Open},
				Levels: []ratio.Level{ratio.EntryLevel}, Places: []int{places}}}}
		centre, found, err := c.desk.ChangeCentre(t.Context(), c.by, version,
			func(s *centre.Settings) { s.OwnBook = house })
		require.NoError(t, err)
		require.Equal(t, version+1, centre.Version)
		return found
	}
	_, found, err := c.desk.ChangeCentre(t.Context(), c.by, 1, func(s *centre.Settings) { s.Name = "Kelp" })
	require.NoError(t, err)
	require.Empty(t, found, "a name changes no limit")

	found = limit(2, 2)
	require.Len(t, found, 1)
	require.Equal(t, ratio.TooManyStudents.ID, found[0].Rule)
	require.Equal(t, c.group.String(), found[0].Subjects[0].ID)
	require.False(t, cleared(c.group))
	require.True(t, cleared(over), "what is over keeps what it was judged on")
	require.Equal(t, 1, c.Count(`SELECT 1 FROM clearance WHERE cause = 'limits_changed' AND NOT cleared`))
	require.Equal(t, 1, c.Count(`SELECT 1 FROM ledger_entry WHERE kind = 'clearance_lost'`))
	_, _, err = c.sessions.OpenSession(t.Context(), c.by, c.open, nil, nil)
	refusedBy(t, err, ratio.TooManyStudents)

	require.Empty(t, limit(3, 3).Only(finding.Forbidden))
	require.True(t, cleared(c.group), "what cures it gives it back")
	_, _, err = c.desk.ChangeCentre(t.Context(), c.by, 1, func(*centre.Settings) {})
	require.ErrorIs(t, err, fault.Stale.Err())
}

// What was learned here goes along to the next course: skills, theory, dives.
func TestATransferTakesTheoryAndDivesAlong(t *testing.T) {
	c := newCounter(t)
	part := syllabus.BuiltIn().Theory[0].Code
	at := time.Date(2026, 6, 6, 10, 0, 0, 0, time.UTC)
	for i, percent := range []float64{10, 100} {
		_, _, err := c.assessment.LogResult(t.Context(), c.by,
			assessment.NewTheoryResult{ID: uuid.New(), EnrolmentID: c.enrolled, Part: part, Percent: percent,
				WitnessedAt: at, Digest: []byte{byte(i)}})
		require.NoError(t, err)
	}
	student := c.Participant(c.open, &c.group, c.student, &c.enrolled, "student")
	c.Clock(time.Date(2026, 6, 7, 18, 0, 0, 0, time.UTC))
	in := waterlog.TimeIn{ID: uuid.New(), ParticipantID: student, InAt: at.Add(23 * time.Hour)}
	dive := c.Dives(c.open)[0]
	_, err := c.desk.LogTimesIn(t.Context(), c.by, dive, []waterlog.TimeIn{in})
	require.NoError(t, err)
	out, err := c.waterlog.LogTimesOut(t.Context(), c.by, dive,
		[]waterlog.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: in.InAt.Add(25 * time.Minute),
			Depth: new(units.Read(9, units.UnitMetre))}})
	require.NoError(t, err)
	require.Equal(t, journal.Recorded, out[0].Status, "%+v", out[0].Refusal)
	next := uuid.New()
	c.CourseBy(next, c.SyllabusOf(c.course))
	e, _, _, err := c.desk.Transfer(t.Context(), c.by, c.enrolled, next, once.New(), nil, nil)
	require.NoError(t, err)
	p, err := c.assessment.Progress(t.Context(), c.by, e.ID)
	require.NoError(t, err)
	require.Equal(t, []syllabus.State{syllabus.Credited, syllabus.Credited, syllabus.NotTried},
		[]syllabus.State{p.Theory[0].State, p.Dives[0].State, p.Dives[1].State})
	require.InDelta(t, 25, p.DiveTime.Value.Float(), 0)
	credits, err := c.assessment.Credits(t.Context(), c.by, e.ID)
	require.NoError(t, err)
	require.Len(t, credits, 2, "the try that failed is no credit")
	_, _, _, err = c.desk.Transfer(t.Context(), c.by, c.enrolled, uuid.New(), once.New(), nil, nil)
	var f *fault.Fault
	require.ErrorAs(t, err, &f)
	require.Equal(t, "unknown_reference", f.Code)
}
