package training_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
)

// timesIn records who went in, as the desk does.
func (p *pool) timesIn(dive uuid.UUID, in ...training.TimeIn) (out []journal.Result, err error) {
	err = p.DB.InTx(p.Context(), p.Centre, func(ctx context.Context, tx *pg.Tx) error {
		views, err := dayview.Read(ctx, tx, dayview.Query{Dive: &dive, Want: dayview.Everything})
		if err == nil && len(views) == 0 {
			err = fault.NoSuch("dive")
		}
		if err != nil {
			return err
		}
		out, err = p.service.LogTimesIn(ctx, p.by, tx, views[0], dive, in, nil)
		return err
	})
	return out, err
}

func (p *pool) in(part uuid.UUID, at time.Time) training.TimeIn {
	return training.TimeIn{ID: uuid.New(), ParticipantID: part, InAt: at}
}

func read(x float64, u units.Unit) *units.Reading { return new(units.Read(x, u)) }

// sunday is when the open-water session is held.
var sunday = time.Date(2026, 6, 7, 9, 30, 0, 0, time.UTC)

func rulesIn(l finding.List) []string {
	out := make([]string, 0, len(l))
	for _, f := range l {
		out = append(out, f.Rule)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// A time in is never refused, whatever speaks against it.
func TestATimeInIsNeverRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		happen func(p *pool)
		change func(in *training.TimeIn)
		want   finding.Rule
	}{
		{"the group is over its ratio",
			func(p *pool) {
				p.Exec(`UPDATE session_group SET cleared = false`,
					nil)
			}, nil, training.GroupNotCleared},
		{"in no group", func(p *pool) {
			p.Exec(`UPDATE participant SET group_id = NULL WHERE role = 'student'`,
				nil)
		}, nil, training.NoGroup},
		{"roll call has the student absent",
			func(p *pool) {
				p.Exec(`UPDATE participant SET attendance = 'absent'`,
					nil)
			}, nil, training.NotThere},
		{"the student sits out", func(p *pool) { p.Exec(`UPDATE participant SET attendance = 'sat_out'`, nil) },
			nil, training.NotThere},
		{"after the student left", func(p *pool) {
			p.Exec(`UPDATE participant SET attendance = 'left_early', attendance_at = @at`,
				map[string]any{"at": sunday.Add(-time.Minute)})
		}, nil, training.NotThere},
		{"the session was never opened", func(p *pool) { p.Exec(`UPDATE session SET state = 'planned'`, nil) },
			nil, training.NotUnderWay},
		{"the session was called off", func(p *pool) { p.Exec(`UPDATE session SET state = 'cancelled'`, nil) },
			nil, training.NotUnderWay},
		{"after the session was closed", func(p *pool) {
			p.Exec(`UPDATE session SET state = 'closed', ended_at = @at`,
				map[string]any{"at": sunday.Add(-time.Minute)})
		}, nil, training.NotUnderWay},
		{"on another day", nil, func(in *training.TimeIn) { in.InAt = in.InAt.AddDate(0, 0, -1) },
			training.OtherDay},
		{"skills that come before are missing", nil, nil, syllabus.DivePrerequisite},
		{"the enrolment was withdrawn",
			func(p *pool) {
				p.Exec(`UPDATE enrolment SET state = 'withdrawn'`,
					nil)
			}, nil, syllabus.EnrolmentNotActive},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newPool(t, 1)
			in := p.in(p.inOpen[p.enrolments[0]], sunday)
			if c.happen != nil {
				c.happen(p)
			}
			if c.change != nil {
				c.change(&in)
			}
			out, err := p.timesIn(p.dives[0], in)
			require.NoError(t, err)
			require.Equal(t, journal.Recorded, out[0].Status)
			require.NotEmpty(t, out[0].Findings.Of(c.want), "%v", rulesIn(out[0].Findings))
			require.Equal(t, 1, p.Count(`SELECT 1 FROM dive_start`))
		})
	}
}

// What was seen in time is not held against anybody because it arrives late.
func TestWhatArrivesLateButWasSeenInTimeIsFine(t *testing.T) {
	p := newPool(t, 1)
	p.Exec(`UPDATE session SET state = 'closed', ended_at = @at`,
		map[string]any{"at": sunday.Add(3 * time.Hour)})
	p.Exec(`UPDATE participant SET attendance = 'left_early', attendance_at = @at`,
		map[string]any{"at": sunday.Add(time.Hour)})
	out, err := p.service.LogGasChecks(t.Context(), p.by, p.open,
		[]training.GasCheck{gas(p.inOpen[p.enrolments[0]], read(187, "bar"), read(180, "bar"), sunday)})
	require.NoError(t, err)
	require.Empty(t, out[0].Findings)
}

// A buddy team is two or three (common practice).
func TestBuddyTeams(t *testing.T) {
	p := newPool(t, 4)
	in := func(team string, who ...int) (out []training.TimeIn) {
		for _, i := range who {
			t := p.in(p.inOpen[p.enrolments[i]], sunday)
			t.Team = &team
			out = append(out, t)
		}
		return out
	}
	found := func(in []training.TimeIn) int {
		out, err := p.timesIn(p.dives[0], in...)
		require.NoError(t, err)
		return len(out[len(out)-1].Findings.Of(training.TeamSize))
	}
	require.Equal(t, 0, found(in("a", 0)), "the others may follow one by one")
	require.Equal(t, 0, found(in("a", 1, 2)))
	require.Equal(t, 1, found(in("a", 3)), "the fourth of a team")
	require.Equal(t, 1, found(append(in("b", 0, 1), in("c", 2)...)), "a team of one beside others")
}

func TestNobodyIsInTwice(t *testing.T) {
	p := newPool(t, 1)
	part := p.inOpen[p.enrolments[0]]
	one, two := p.in(part, sunday), p.in(part, sunday.Add(time.Minute))
	out, err := p.timesIn(p.dives[0], one, two)
	require.NoError(t, err)
	require.Empty(t, out[0].Findings.Of(training.InAlready))
	require.NotEmpty(t, out[1].Findings.Of(training.InAlready), "on the same dive, in the same call")

	out, err = p.timesIn(p.dives[1], p.in(part, sunday.Add(time.Hour)))
	require.NoError(t, err)
	require.NotEmpty(t, out[0].Findings.Of(training.InAlready), "still in on the dive before")

	ends, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0], []training.TimeOut{
		{ID: uuid.New(), StartID: one.ID, OutAt: sunday.Add(30 * time.Minute)},
		{ID: uuid.New(), StartID: one.ID, OutAt: sunday.Add(31 * time.Minute), Depth: read(8, "m")},
		{ID: uuid.New(), StartID: two.ID, OutAt: sunday.Add(30 * time.Minute), Depth: read(8, "m")}})
	require.NoError(t, err)
	require.Empty(t, ends[0].Findings.Of(training.OutAlready))
	require.NotEmpty(t, ends[1].Findings.Of(training.OutAlready), "a second time out")

	// 31 min under water, recorded twice, are 31 min.
	progress, err := p.service.Progress(t.Context(), p.by, p.enrolments[0])
	require.NoError(t, err)
	require.Equal(t, "31 min", units.Reading(progress.DiveTime).String())
}

func TestTheEndOfADive(t *testing.T) {
	start := training.TimeIn{Rating: read(207, "bar"), Size: read(11.1, "L"), Start: read(200, "bar")}
	for _, c := range []struct {
		name string
		end  training.TimeOut
		want []string
	}{
		// Training dives 1 and 2 to 12 m, at least 15 min (manuals, seen); a dive
		// ends with 50 bar, 500 to 700 psi (seen).
		{"as planned", training.TimeOut{OutAt: sunday.Add(20 * time.Minute), Depth: read(12, "m"),
			End: read(50, "bar")}, []string{}},
		{"as planned, in feet and psi",
			training.TimeOut{OutAt: sunday.Add(20 * time.Minute), Depth: read(39, "ft"), End: read(700, "psi")},
			[]string{}},
		{"below 50 bar", training.TimeOut{OutAt: sunday.Add(20 * time.Minute), Depth: read(12, "m"),
			End: read(49, "bar")}, []string{training.EndPressure.ID}},
		{"below 700 psi", training.TimeOut{OutAt: sunday.Add(20 * time.Minute), Depth: read(12, "m"),
			End: read(690, "psi")}, []string{training.EndPressure.ID}},
		{"too deep and too short", training.TimeOut{OutAt: sunday.Add(10 * time.Minute), Depth: read(13, "m")},
			[]string{syllabus.DiveBeyondLimit.ID, syllabus.DiveTooShort.ID}},
		{"beyond the site's 18 m",
			training.TimeOut{OutAt: sunday.Add(20 * time.Minute), Depth: read(18.5, "m")},
			[]string{syllabus.DiveBeyondLimit.ID, training.BeyondSite.ID}},
		{"out before in", training.TimeOut{OutAt: sunday.Add(-time.Minute), Depth: read(12, "m")},
			[]string{syllabus.DiveIncomplete.ID, training.OutBeforeIn.ID}},
		{"with more gas than at the start",
			training.TimeOut{OutAt: sunday.Add(20 * time.Minute), Depth: read(12, "m"), End: read(3000, "psi")},
			[]string{training.EndAboveStart.ID}},
		{"no depth recorded", training.TimeOut{OutAt: sunday.Add(20 * time.Minute)},
			[]string{syllabus.DiveIncomplete.ID}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newPool(t, 1)
			in, end := start, c.end
			in.ID, in.ParticipantID, in.InAt = uuid.New(), p.inOpen[p.enrolments[0]], sunday
			_, err := p.timesIn(p.dives[0], in)
			require.NoError(t, err)
			end.ID, end.StartID = uuid.New(), in.ID
			out, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0], []training.TimeOut{end})
			require.NoError(t, err)
			require.Equal(t, journal.Recorded, out[0].Status)
			require.Equal(t, c.want, rulesIn(out[0].Findings))
		})
	}
}

// Confined water to 5 m (a manual, seen).
func TestConfinedWaterHasADepthToo(t *testing.T) {
	p := newPool(t, 1)
	dive := p.Dives(p.confined)[0]
	p.Brief(p.confined)
	saturday := sunday.AddDate(0, 0, -1)
	in := p.in(p.inConfined[p.enrolments[0]], saturday)
	out, err := p.timesIn(dive, in)
	require.NoError(t, err)
	require.Empty(t, out[0].Findings)
	ends, err := p.service.LogTimesOut(t.Context(), p.by, dive,
		[]training.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: saturday.Add(time.Hour),
			Depth: read(5.5, "m")}})
	require.NoError(t, err)
	require.Equal(t, []string{syllabus.DiveBeyondLimit.ID}, rulesIn(ends[0].Findings))
}

func TestATimeOutBelongsToATimeInOfItsDive(t *testing.T) {
	p := newPool(t, 1)
	in := p.in(p.inOpen[p.enrolments[0]], sunday)
	_, err := p.timesIn(p.dives[0], in)
	require.NoError(t, err)
	end := training.TimeOut{ID: uuid.New(), StartID: in.ID, OutAt: sunday.Add(time.Hour)}
	out, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[1], []training.TimeOut{end})
	require.NoError(t, err)
	require.Equal(t, "unknown_reference", out[0].Refusal.Code)
	_, err = p.service.LogTimesOut(t.Context(), p.by, uuid.New(), []training.TimeOut{end})
	require.ErrorIs(t, err, fault.NotFound.Err())
	_, err = p.timesIn(uuid.New(), in)
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// Code du sport, annex III-16a: beginners' training to 20 m, first dives to 6 m;
// Region of Murcia, order of June 2015: minors of 12 and 13 to 10 m (all seen).
func TestADiveBeyondTheDepthOfARuleBookIsPointedOut(t *testing.T) {
	const france, murcia = "France (version 1): Code du sport, annex III-16a (article A322-82)", "Murcia, minors (version 1): regional order of June 2015"
	for _, c := range []struct {
		name, born, level string
		books             []string
		depth             *units.Reading
		limit, source     string // "": nothing is found
	}{
		{"a beginner to 20 m", "1995-05-05", "entry_level", []string{"france"}, read(20, "m"), "", ""},
		{"a beginner deeper", "1995-05-05", "entry_level", []string{"france"}, read(20.1, "m"), "20 m", france},
		{"a beginner deeper, in feet", "1995-05-05", "entry_level", []string{"france"}, read(66, "ft"), "20 m",
			france},
		{"a first dive deeper than 6 m", "1995-05-05", "introductory", []string{"france", "general-open"},
			read(6.5, "m"), "6 m", france},
		{"aged 13", "2012-06-08", "entry_level", []string{"murcia-minors", "france"}, read(10.5, "m"), "10 m",
			murcia},
		{"14 on the day", "2012-06-07", "entry_level", []string{"murcia-minors", "france"}, read(10.5, "m"), "",
			""},
		{"by a book that the centre does not apply", "2012-06-08", "entry_level", []string{"general-open"},
			read(30, "m"), "", ""},
		{"no depth recorded", "2012-06-08", "entry_level", []string{"murcia-minors"}, nil, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newPool(t, 1)
			p.Exec(`UPDATE centre SET rule_books = @books WHERE centre_id = @centre`,
				map[string]any{"books": c.books})
			p.Exec(`UPDATE person SET birth_on = @born WHERE id = @id`,
				map[string]any{"born": c.born, "id": p.PersonOf(p.enrolments[0])})
			p.Super(`UPDATE syllabus_version SET level = '` + c.level + `'`)
			in := p.in(p.inOpen[p.enrolments[0]], sunday)
			_, err := p.timesIn(p.dives[0], in)
			require.NoError(t, err)
			out, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0],
				[]training.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: sunday.Add(20 * time.Minute),
					Depth: c.depth}})
			require.NoError(t, err)
			require.Equal(t, journal.Recorded, out[0].Status, "what happened is never refused")
			log, err := p.service.Dives(t.Context(), p.by, p.open)
			require.NoError(t, err)
			for _, found := range []finding.List{out[0].Findings.Of(training.BeyondBook),
				log[0].Log[0].EndFindings.Of(training.BeyondBook)} {
				if c.limit == "" {
					require.Empty(t, found)
					continue
				}
				require.Len(t, found, 1)
				require.Equal(t, c.limit, found[0].Limit.Text)
				require.Equal(t, c.depth.String(), found[0].Found.Text)
				require.Equal(t, c.source, found[0].Source)
			}
		})
	}
}

// A book sets a depth for students: ISO 24801-2 and the laws speak of them alone.
func TestARuleBookSetsNoDepthForCrew(t *testing.T) {
	p := newPool(t, 1)
	p.Exec(`UPDATE centre SET rule_books = '{france}' WHERE centre_id = @centre`, nil)
	assistant := p.text(`SELECT id::text FROM participant WHERE session_id = '` + p.open.String() +
		`' AND role = 'assistant'`)
	in := p.in(uuid.MustParse(assistant), sunday)
	_, err := p.timesIn(p.dives[0], in)
	require.NoError(t, err)
	out, err := p.service.LogTimesOut(t.Context(), p.by, p.dives[0],
		[]training.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: sunday.Add(20 * time.Minute),
			Depth: read(25, "m")}})
	require.NoError(t, err)
	require.Empty(t, out[0].Findings.Of(training.BeyondBook))
}
