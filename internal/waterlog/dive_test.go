package waterlog_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/scenetest/pooltest"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/watercheck"
	"tankside/internal/waterlog"
)

// A time in is never refused, whatever speaks against it.
func TestATimeInIsNeverRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		happen func(p *pooltest.Pool)
		change func(in *waterlog.TimeIn)
		want   finding.Rule
	}{
		{"the group is over its ratio",
			func(p *pooltest.Pool) {
				p.Exec(`UPDATE session_group SET cleared = false`,
					nil)
			}, nil, watercheck.GroupNotCleared},
		{"in no group", func(p *pooltest.Pool) {
			p.Exec(`UPDATE participant SET group_id = NULL WHERE role = 'student'`,
				nil)
		}, nil, watercheck.NoGroup},
		{"roll call has the student absent",
			func(p *pooltest.Pool) {
				p.Exec(`UPDATE participant SET attendance = 'absent'`,
					nil)
			}, nil, watercheck.NotThere},
		{"the student sits out", func(p *pooltest.Pool) { p.Exec(`UPDATE participant SET attendance = 'sat_out'`, nil) },
			nil, watercheck.NotThere},
		{"after the student left", func(p *pooltest.Pool) {
			p.Exec(`UPDATE participant SET attendance = 'left_early', attendance_at = @at`,
				map[string]any{"at": pooltest.Sunday.Add(-time.Minute)})
		}, nil, watercheck.NotThere},
		{"the session was never opened", func(p *pooltest.Pool) { p.Exec(`UPDATE session SET state = 'planned'`, nil) },
			nil, watercheck.NotUnderWay},
		{"the session was called off", func(p *pooltest.Pool) { p.Exec(`UPDATE session SET state = 'cancelled'`, nil) },
			nil, watercheck.NotUnderWay},
		{"after the session was closed", func(p *pooltest.Pool) {
			p.Exec(`UPDATE session SET state = 'closed', ended_at = @at`,
				map[string]any{"at": pooltest.Sunday.Add(-time.Minute)})
		}, nil, watercheck.NotUnderWay},
		{"on another day", nil, func(in *waterlog.TimeIn) { in.InAt = in.InAt.AddDate(0, 0, -1) },
			watercheck.OtherDay},
		{"skills that come before are missing", nil, nil, syllabus.DivePrerequisite},
		{"the enrolment was withdrawn",
			func(p *pooltest.Pool) {
				p.Exec(`UPDATE enrolment SET state = 'withdrawn'`,
					nil)
			}, nil, syllabus.EnrolmentNotActive},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := pooltest.New(t, 1)
			in := p.In(p.InOpen[p.Enrolments[0]], pooltest.Sunday)
			if c.happen != nil {
				c.happen(p)
			}
			if c.change != nil {
				c.change(&in)
			}
			out, err := p.TimesIn(p.OpenDives[0], in)
			require.NoError(t, err)
			require.Equal(t, journal.Recorded, out[0].Status)
			require.NotEmpty(t, out[0].Findings.Of(c.want), "%v", pooltest.RulesIn(out[0].Findings))
			require.Equal(t, 1, p.Count(`SELECT 1 FROM time_in`))
		})
	}
}

// What was seen in time is not held against anybody because it arrives late.
func TestWhatArrivesLateButWasSeenInTimeIsFine(t *testing.T) {
	p := pooltest.New(t, 1)
	p.Exec(`UPDATE session SET state = 'closed', ended_at = @at`,
		map[string]any{"at": pooltest.Sunday.Add(3 * time.Hour)})
	p.Exec(`UPDATE participant SET attendance = 'left_early', attendance_at = @at`,
		map[string]any{"at": pooltest.Sunday.Add(time.Hour)})
	out, err := p.Waterlog.LogGasChecks(t.Context(), p.By, p.Open,
		[]waterlog.GasCheck{pooltest.Gas(p.InOpen[p.Enrolments[0]], pooltest.Read(187, "bar"),
			pooltest.Read(180, "bar"), pooltest.Sunday)})
	require.NoError(t, err)
	require.Empty(t, out[0].Findings)
}

// A buddy team is two or three (common practice).
func TestBuddyTeams(t *testing.T) {
	p := pooltest.New(t, 4)
	in := func(team string, who ...int) (out []waterlog.TimeIn) {
		for _, i := range who {
			t := p.In(p.InOpen[p.Enrolments[i]], pooltest.Sunday)
			t.Team = &team
			out = append(out, t)
		}
		return out
	}
	found := func(in []waterlog.TimeIn) int {
		out, err := p.TimesIn(p.OpenDives[0], in...)
		require.NoError(t, err)
		return len(out[len(out)-1].Findings.Of(watercheck.TeamSize))
	}
	require.Equal(t, 0, found(in("a", 0)), "the others may follow one by one")
	require.Equal(t, 0, found(in("a", 1, 2)))
	require.Equal(t, 1, found(in("a", 3)), "the fourth of a team")
	require.Equal(t, 1, found(append(in("b", 0, 1), in("c", 2)...)), "a team of one beside others")
}

func TestNobodyIsInTwice(t *testing.T) {
	p := pooltest.New(t, 1)
	part := p.InOpen[p.Enrolments[0]]
	one, two := p.In(part, pooltest.Sunday), p.In(part, pooltest.Sunday.Add(time.Minute))
	out, err := p.TimesIn(p.OpenDives[0], one, two)
	require.NoError(t, err)
	require.Empty(t, out[0].Findings.Of(watercheck.InAlready))
	require.NotEmpty(t, out[1].Findings.Of(watercheck.InAlready), "on the same dive, in the same call")

	out, err = p.TimesIn(p.OpenDives[1], p.In(part, pooltest.Sunday.Add(time.Hour)))
	require.NoError(t, err)
	require.NotEmpty(t, out[0].Findings.Of(watercheck.InAlready), "still in on the dive before")

	ends, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0], []waterlog.TimeOut{
		{ID: uuid.New(), StartID: one.ID, OutAt: pooltest.Sunday.Add(30 * time.Minute)},
		{ID: uuid.New(), StartID: one.ID, OutAt: pooltest.Sunday.Add(31 * time.Minute), Depth: pooltest.Read(8, "m")},
		{ID: uuid.New(), StartID: two.ID, OutAt: pooltest.Sunday.Add(30 * time.Minute), Depth: pooltest.Read(8, "m")}})
	require.NoError(t, err)
	require.Empty(t, ends[0].Findings.Of(watercheck.OutAlready))
	require.NotEmpty(t, ends[1].Findings.Of(watercheck.OutAlready), "a second time out")

	// 31 min under water, recorded twice, are 31 min.
	progress, err := p.Assessment.Progress(t.Context(), p.By, p.Enrolments[0])
	require.NoError(t, err)
	require.Equal(t, "31 min", units.Reading(progress.DiveTime).String())
}

func TestTheEndOfADive(t *testing.T) {
	start := waterlog.TimeIn{Rating: pooltest.Read(207, "bar"), Size: pooltest.Read(11.1, "L"),
		Start: pooltest.Read(200, "bar")}
	for _, c := range []struct {
		name string
		end  waterlog.TimeOut
		want []string
	}{
		// Training dives 1 and 2 to 12 m, at least 15 min (manuals, seen); a dive
		// ends with 50 bar, 500 to 700 psi (seen).
		{"as planned", waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute), Depth: pooltest.Read(12, "m"),
			End: pooltest.Read(50, "bar")}, []string{}},
		{"as planned, in feet and psi",
			waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute), Depth: pooltest.Read(39, "ft"),
				End: pooltest.Read(700, "psi")},
			[]string{}},
		{"below 50 bar", waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute), Depth: pooltest.Read(12, "m"),
			End: pooltest.Read(49, "bar")}, []string{watercheck.EndPressure.ID}},
		{"below 700 psi", waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute), Depth: pooltest.Read(12, "m"),
			End: pooltest.Read(690, "psi")}, []string{watercheck.EndPressure.ID}},
		{"too deep and too short", waterlog.TimeOut{OutAt: pooltest.Sunday.Add(10 * time.Minute),
			Depth: pooltest.Read(13, "m")},
			[]string{syllabus.DiveBeyondLimit.ID, syllabus.DiveTooShort.ID}},
		{"beyond the site's 18 m",
			waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute), Depth: pooltest.Read(18.5, "m")},
			[]string{syllabus.DiveBeyondLimit.ID, watercheck.BeyondSite.ID}},
		{"out before in", waterlog.TimeOut{OutAt: pooltest.Sunday.Add(-time.Minute), Depth: pooltest.Read(12, "m")},
			[]string{syllabus.DiveIncomplete.ID, watercheck.OutBeforeIn.ID}},
		{"with more gas than at the start",
			waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute), Depth: pooltest.Read(12, "m"),
				End: pooltest.Read(3000, "psi")},
			[]string{watercheck.EndAboveStart.ID}},
		{"no depth recorded", waterlog.TimeOut{OutAt: pooltest.Sunday.Add(20 * time.Minute)},
			[]string{syllabus.DiveIncomplete.ID}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := pooltest.New(t, 1)
			in, end := start, c.end
			in.ID, in.ParticipantID, in.InAt = uuid.New(), p.InOpen[p.Enrolments[0]], pooltest.Sunday
			_, err := p.TimesIn(p.OpenDives[0], in)
			require.NoError(t, err)
			end.ID, end.StartID = uuid.New(), in.ID
			out, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0], []waterlog.TimeOut{end})
			require.NoError(t, err)
			require.Equal(t, journal.Recorded, out[0].Status)
			require.Equal(t, c.want, pooltest.RulesIn(out[0].Findings))
		})
	}
}

// Confined water to 5 m (a manual, seen).
func TestConfinedWaterHasADepthToo(t *testing.T) {
	p := pooltest.New(t, 1)
	dive := p.Dives(p.Confined)[0]
	p.Brief(p.Confined)
	saturday := pooltest.Sunday.AddDate(0, 0, -1)
	in := p.In(p.InConfined[p.Enrolments[0]], saturday)
	out, err := p.TimesIn(dive, in)
	require.NoError(t, err)
	require.Empty(t, out[0].Findings)
	ends, err := p.Waterlog.LogTimesOut(t.Context(), p.By, dive,
		[]waterlog.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: saturday.Add(time.Hour),
			Depth: pooltest.Read(5.5, "m")}})
	require.NoError(t, err)
	require.Equal(t, []string{syllabus.DiveBeyondLimit.ID}, pooltest.RulesIn(ends[0].Findings))
}

func TestATimeOutBelongsToATimeInOfItsDive(t *testing.T) {
	p := pooltest.New(t, 1)
	in := p.In(p.InOpen[p.Enrolments[0]], pooltest.Sunday)
	_, err := p.TimesIn(p.OpenDives[0], in)
	require.NoError(t, err)
	end := waterlog.TimeOut{ID: uuid.New(), StartID: in.ID, OutAt: pooltest.Sunday.Add(time.Hour)}
	out, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[1], []waterlog.TimeOut{end})
	require.NoError(t, err)
	require.Equal(t, "unknown_reference", out[0].Refusal.Code)
	_, err = p.Waterlog.LogTimesOut(t.Context(), p.By, uuid.New(), []waterlog.TimeOut{end})
	require.ErrorIs(t, err, fault.NotFound.Err())
	_, err = p.TimesIn(uuid.New(), in)
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
		{"a beginner to 20 m", "1995-05-05", "entry_level", []string{"france"}, pooltest.Read(20, "m"), "", ""},
		{"a beginner deeper", "1995-05-05", "entry_level", []string{"france"}, pooltest.Read(20.1, "m"),
			"20 m", france},
		{"a beginner deeper, in feet", "1995-05-05", "entry_level", []string{"france"}, pooltest.Read(66, "ft"), "20 m",
			france},
		{"a first dive deeper than 6 m", "1995-05-05", "introductory", []string{"france", "general-open"},
			pooltest.Read(6.5, "m"), "6 m", france},
		{"aged 13", "2012-06-08", "entry_level", []string{"murcia-minors", "france"}, pooltest.Read(10.5, "m"), "10 m",
			murcia},
		{"14 on the day", "2012-06-07", "entry_level", []string{"murcia-minors", "france"},
			pooltest.Read(10.5, "m"), "",
			""},
		{"by a book that the centre does not apply", "2012-06-08", "entry_level", []string{"general-open"},
			pooltest.Read(30, "m"), "", ""},
		{"no depth recorded", "2012-06-08", "entry_level", []string{"murcia-minors"}, nil, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := pooltest.New(t, 1)
			p.Exec(`UPDATE centre SET rule_books = @books WHERE centre_id = @centre`,
				map[string]any{"books": c.books})
			p.Exec(`UPDATE person SET birth_on = @born WHERE id = @id`,
				map[string]any{"born": c.born, "id": p.PersonOf(p.Enrolments[0])})
			p.Super(`UPDATE syllabus_version SET level = '` + c.level + `'`)
			in := p.In(p.InOpen[p.Enrolments[0]], pooltest.Sunday)
			_, err := p.TimesIn(p.OpenDives[0], in)
			require.NoError(t, err)
			out, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0],
				[]waterlog.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: pooltest.Sunday.Add(20 * time.Minute),
					Depth: c.depth}})
			require.NoError(t, err)
			require.Equal(t, journal.Recorded, out[0].Status, "what happened is never refused")
			log, err := p.LoggedDives(p.Open)
			require.NoError(t, err)
			for _, found := range []finding.List{out[0].Findings.Of(watercheck.BeyondBook),
				log[0].Log[0].EndFindings.Of(watercheck.BeyondBook)} {
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
	p := pooltest.New(t, 1)
	p.Exec(`UPDATE centre SET rule_books = '{france}' WHERE centre_id = @centre`, nil)
	assistant := p.Text(`SELECT id::text FROM participant WHERE session_id = '` + p.Open.String() +
		`' AND role = 'assistant'`)
	in := p.In(uuid.MustParse(assistant), pooltest.Sunday)
	_, err := p.TimesIn(p.OpenDives[0], in)
	require.NoError(t, err)
	out, err := p.Waterlog.LogTimesOut(t.Context(), p.By, p.OpenDives[0],
		[]waterlog.TimeOut{{ID: uuid.New(), StartID: in.ID, OutAt: pooltest.Sunday.Add(20 * time.Minute),
			Depth: pooltest.Read(25, "m")}})
	require.NoError(t, err)
	require.Empty(t, out[0].Findings.Of(watercheck.BeyondBook))
}
