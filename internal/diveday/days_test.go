package diveday

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/nostop"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/units"
)

var sundayDay = time.Date(2026, 6, 7, 0, 0, 0, 0, time.UTC)

// The figures are cells of the US Navy Diving Manual Rev 7, Tables 9-7 and 9-8, as
// in the tests of tankside nostop: 18 m is the row of 60 fsw, 40 min: H; 1:40 on
// the surface: G; 12 m is 40 fsw, 64 + 45 = 109: L.
func TestDivesOfADayAreJudgedInTheirRealSequence(t *testing.T) {
	w := newWater(t)
	other := w.Course(w.syllabus())
	morning := w.Session(w.course, "open", "2026-06-07T08:00:00Z", "closed", 4)
	later := w.Session(other, "open", "2026-06-07T11:00:00Z", "closed", 1)
	at := func(hour, minute int) time.Time { return time.Date(2026, 6, 7, hour, minute, 0, 0, time.UTC) }
	w.log(scenetest.Dive{Participant: w.part(later), Dive: w.Dives(later)[0], In: at(11, 20), Out: at(12, 5),
		Depth: read(12, "m")})
	w.log(scenetest.Dive{Participant: w.part(morning), Dive: w.Dives(morning)[0], In: at(9, 0), Out: at(9, 40),
		Depth: read(18, "m")})
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Len(t, day.Dives, 2)
	one, two := day.Dives[0], day.Dives[1]
	require.Equal(t, []any{Recorded, Recorded, nostop.H, 63},
		[]any{one.DepthFrom, one.TimeFrom, one.Result.After, int(one.Result.Left.At)})
	require.Equal(t, []any{nostop.G, nostop.Minutes(64), nostop.L, 99},
		[]any{two.Result.Before, two.Result.Residual.Minutes, two.Result.After, int(two.Result.Left.At)})
	require.NotEqual(t, one.CourseID, two.CourseID, "of two courses of the centre")
	require.Equal(t, "10:00", one.Result.Dive.In.Format("15:04"), "in the zone of the session: Lisbon")
	require.Equal(t, 18*time.Hour, day.Flying.Earliest.Sub(two.Result.Dive.Out),
		"several dives: 18 h (DAN workshop of May 2002)")
	require.Len(t, day.GoingUp, 10)
	// Table 9-6, row L: 1000 ft 2:37 ... the highest group of the last 24 h is L.
	require.Equal(t, nostop.L, day.GoingUp[0].Highest)
	wait, ok := nostop.BeforeAltitude(nostop.L, 1000*units.Foot)
	require.True(t, ok)
	require.Equal(t, wait, day.GoingUp[0].Table)
}

// A planned dive has the greatest depth that it may have, and its share of the
// session; as soon as it is done, it counts as it was done.
func TestDivesAsTheyWereDoneReplaceThePlannedOnes(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1, 4)
	part, dives := w.part(open), w.Dives(open)
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Len(t, day.Dives, 2)
	// Three hours for two dives: 90 min each, of which the second half is under water.
	require.Equal(t, []string{"10:45 to 11:30, 12 m by training_dive, session_length",
		"12:15 to 13:00, 18 m by training_dive, session_length"}, spans(day))
	start, _ := w.log(scenetest.Dive{Participant: part, Dive: dives[0], In: sunday.Add(20 * time.Minute),
		Out: sunday.Add(50 * time.Minute), Depth: read(9, "m")})
	day, err = w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, []string{"10:20 to 10:50, 9 m by recorded, recorded",
		"12:15 to 13:00, 18 m by training_dive, session_length"}, spans(day))
	require.Equal(t, start.String(), day.Dives[0].Result.Dive.Key)
	w.void(start)
	day, err = w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, "10:45 to 11:30, 12 m by training_dive, session_length", spans(day)[0],
		"what is voided was not done")
}

func spans(d Day) (out []string) {
	for _, x := range d.Dives {
		dive := x.Result.Dive
		out = append(out, fmt.Sprintf("%s to %s, %s by %s, %s", dive.In.Format("15:04"),
			dive.Out.Format("15:04"), dive.Depth, x.DepthFrom, x.TimeFrom))
	}
	return out
}

func TestWhoeverIsNotThereDoesNotDive(t *testing.T) {
	w := newWater(t)
	for name, c := range map[string]struct {
		state, attendance string
		want              int
	}{
		"expected":                          {"planned", "expected", 1},
		"sits out":                          {"under_way", "sat_out", 0},
		"absent":                            {"closed", "absent", 0},
		"called off":                        {"cancelled", "expected", 0},
		"broken off":                        {"abandoned", "present", 0},
		"closed and never called":           {"closed", "expected", 0},
		"there, and nothing was recorded":   {"closed", "present", 1},
		"late, and nothing was recorded":    {"closed", "late", 1},
		"left, and nothing was recorded":    {"closed", "left_early", 0},
		"there while it is still under way": {"under_way", "present", 1},
	} {
		t.Run(name, func(t *testing.T) {
			person := w.Crew("Rui "+name, "instructor")
			session := w.Session(w.course, "open", "2026-06-07T09:00:00Z", c.state, 1)
			part := w.partOf(session, person)
			w.Exec(`UPDATE participant SET attendance = @a WHERE id = @p`,
				pgx.NamedArgs{"a": c.attendance, "p": part})
			day, err := w.reader.DivesOn(t.Context(), w.by, person, sundayDay)
			require.NoError(t, err)
			require.Len(t, day.Dives, c.want)
			unrecorded := c.want == 1 && c.state == "closed"
			require.Equal(t, unrecorded, len(day.Findings.Of(DiveNotRecorded)) == 1)
		})
	}
}

// It is 18:00 UTC: the session is over, and nobody wrote down when the dive ended.
func TestADiveWithoutATimeOut(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1)
	w.log(scenetest.Dive{Participant: w.part(open), Dive: w.Dives(open)[0], In: sunday.Add(15 * time.Minute)})
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, []string{"10:15 to 13:00, 12 m by training_dive, until_now"}, spans(day))
	require.Len(t, day.Findings.Of(NoTimeOut), 1)
	w.Exec(`UPDATE session SET state = 'closed', ended_at = @now`, nil)
	day, err = w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, []string{"10:15 to 11:45, 12 m by training_dive, session_length"}, spans(day))
}

// Rev 7 Table 9-8: a diver in group Z counts residual nitrogen for 15:50 h, one
// in A for 2:20 h; the lowest row of a night dive at 18 m for 55 min (60 fsw, J)
// that ends at 23:55 still counts at 06:00 the next morning.
func TestALateDiveOfTheDayBeforeCounts(t *testing.T) {
	w := newWater(t)
	night := w.Session(w.course, "open", "2026-06-06T21:00:00Z", "closed", 4)
	out := time.Date(2026, 6, 6, 23, 55, 0, 0, time.UTC)
	w.log(scenetest.Dive{Participant: w.part(night), Dive: w.Dives(night)[0], In: out.Add(-55 * time.Minute), Out: out,
		Depth: read(18, "m")})
	dawn := w.Session(w.course, "open", "2026-06-07T05:00:00Z", "closed", 1)
	w.log(scenetest.Dive{Participant: w.part(dawn), Dive: w.Dives(dawn)[0], In: out.Add(5 * time.Hour),
		Out: out.Add(5*time.Hour + 30*time.Minute), Depth: read(9, "m")})
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	// In Lisbon the night dive began at midnight: it is of Sunday by its place.
	require.Len(t, day.Dives, 2)
	require.Empty(t, day.Earlier)
	saturday, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay.AddDate(0, 0, -1))
	require.NoError(t, err)
	require.Empty(t, saturday.Dives)
	require.Equal(t, nostop.AfterInterval(day.Dives[0].Result.After, 300), day.Dives[1].Result.Before)
	require.NotEqual(t, nostop.None, day.Dives[1].Result.Before)

	monday, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay.AddDate(0, 0, 1))
	require.NoError(t, err)
	require.Empty(t, monday.Dives)
	require.Len(t, monday.Earlier, 2)
	require.Equal(t, day.Flying.Earliest, monday.Flying.Earliest, "who dived on Sunday waits on Monday too")
}

// An instructor goes down four times in a day, with groups of different courses.
// One manual's figure for students is three dives a day; the six ascents are our
// choice (package nostop).
func TestFourDescentsInADayAskForCaution(t *testing.T) {
	w := newWater(t)
	for i := range 4 {
		s := w.Session(w.Course(w.syllabus()), "open", fmt.Sprintf("2026-06-07T%02d:00:00Z", 7+3*i),
			"planned", 1)
		w.part(s)
	}
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Len(t, day.Dives, 4)
	caution := day.Findings.Of(nostop.RuleManyDives)
	require.Len(t, caution, 1)
	require.Equal(t, []finding.Subject{{Type: "dive", ID: day.Dives[3].DiveID.String()}}, caution[0].Subjects)
}

// Table 9-5 is for looking up only: above 300 m every depth needs a correction.
func TestAMountainLakeIsNotPlannedByTheseTables(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "planned", 1)
	w.part(open)
	w.Exec(`UPDATE site SET altitude = '(301,m)'`, nil)
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Len(t, day.Findings.Of(nostop.RuleAltitudeSite), 1)
	require.True(t, day.Findings.Forbids())
}

func TestAStudentReadsTheOwnDives(t *testing.T) {
	w := newWater(t)
	sofia := w.Student("Sofia Student", "1995-05-05")
	_, err := w.reader.DivesOn(t.Context(), w.As(sofia), sofia, sundayDay)
	require.NoError(t, err)
	_, err = w.reader.DivesOn(t.Context(), w.As(sofia), w.instructor, sundayDay)
	require.ErrorIs(t, err, fault.Forbidden.Err())
	_, err = w.reader.DivesOn(t.Context(), w.by, uuid.New(), sundayDay)
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// The limit that a dive leaves for the next one, as a plan asks for it: 60 fsw has
// 63 min without residual nitrogen; after 40 min at 18 m and 1:40 on the surface a
// diver in G has 40 min of it at 60 fsw (Tables 9-7 and 9-8), 23 are left.
func TestAPlanIsToldWhatEarlierDivesLeave(t *testing.T) {
	w := newWater(t)
	abel := w.Crew("Abel Assistant", "assistant")
	morning := w.Session(w.course, "open", "2026-06-07T08:00:00Z", "closed", 4)
	w.log(scenetest.Dive{Participant: w.part(morning), Dive: w.Dives(morning)[0], In: sunday,
		Out: sunday.Add(40 * time.Minute), Depth: read(18, "m")})
	next := w.Session(w.course, "open", "2026-06-07T11:00:00Z", "planned", 4)
	w.part(next)
	w.partOf(next, abel)
	// Its dive is in the second half of the session, from 11:20 on.
	w.Exec(`UPDATE session SET ends_local = starts_local + interval '40 minutes', ends_at = starts_at + interval '40 minutes',
		during = tstzrange(starts_at, starts_at + interval '40 minutes') WHERE id = @id`, pgx.NamedArgs{"id": next})
	w.in(func(ctx context.Context, tx *pg.Tx) error {
		var b pgx.Batch
		read := QueueDives(&b, []uuid.UUID{w.instructor, abel, w.Manager}, sunday.Add(4*time.Hour), tx.Now)
		require.NoError(t, tx.Send(ctx, &b))
		got, dives := map[uuid.UUID]NoStop{}, read()
		for _, p := range []uuid.UUID{w.instructor, abel, w.Manager} {
			got[p] = NextDive{SessionID: next, Depth: units.Read(18, "m"), Under: 30 * time.Minute}.After(p,
				dives[p], nostop.Settings{})
		}
		mine := got[w.instructor]
		require.Len(t, mine.Earlier, 1)
		require.Equal(t, nostop.Minutes(23), mine.Left.At)
		require.True(t, mine.Findings.Forbids(), "30 min are more than that")
		require.Equal(t, nostop.Minutes(63), got[abel].Left.At, "the first dive of the day")
		require.True(t, got[w.Manager].Left.Unlimited, "takes no part")
		return nil
	})
}

// More, longer or deeper dives before never leave more for the next one.
func TestEarlierDivesNeverLeaveMore(t *testing.T) {
	next := NextDive{SessionID: uuid.New(), Depth: units.Read(15, "m"), Under: 30 * time.Minute}
	rapid.Check(t, func(t *rapid.T) {
		left := func(minutes []int, depth float64) int {
			at := sunday
			var dives []Dive
			for i, m := range minutes {
				d := Dive{SessionID: uuid.New(), DiveID: uuid.New()}
				d.Result.Dive = nostop.Dive{Key: fmt.Sprint(i), Depth: units.Read(depth, "m"), In: at,
					Out: at.Add(time.Duration(m) * time.Minute), Done: true}
				at = at.Add(3 * time.Hour)
				dives = append(dives, d)
			}
			d := Dive{SessionID: next.SessionID, DiveID: uuid.New()}
			d.Result.Dive = nostop.Dive{Key: "next", In: sunday.Add(9 * time.Hour),
				Out: sunday.Add(10 * time.Hour)}
			n := next.After(uuid.New(), append(dives, d), nostop.Settings{})
			if n.Findings.Of(nostop.RuleOutsideBefore) != nil {
				return -1
			}
			return int(n.Left.At)
		}
		minutes := rapid.SliceOfN(rapid.IntRange(5, 60), 1, 3).Draw(t, "minutes")
		depth := rapid.Float64Range(8, 18).Draw(t, "depth")
		base := left(minutes, depth)
		require.LessOrEqual(t, base, left(minutes[:len(minutes)-1], depth), "fewer dives")
		longer := append([]int{}, minutes...)
		longer[len(longer)-1] += 10
		require.LessOrEqual(t, left(longer, depth), base, "a longer dive")
		require.LessOrEqual(t, left(minutes, depth+3), base, "deeper dives")
	})
}

// A confirmed plan of record says how deep and how long: 20 min to 14 m and 4 min
// of ascent, from half past nine on by the plan of the dive itself.
func TestAConfirmedPlanSaysHowDeepAndHowLong(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "planned", 3, 4)
	part, dives := w.part(open), w.Dives(open)
	confirm := func(turn int, dive any, dive1 string) {
		id := uuid.New()
		args := pgx.NamedArgs{"id": id, "session": open, "dive": dive, "part": part, "who": w.instructor,
			"turn": turn,
			"input": `{"dive": ` + dive1 +
				`}`, "result": `{"group": {"ascent_time": {"value": 4, "unit": "min"}}}`}
		w.Exec(`INSERT INTO gas_plan (centre_id, id, session_id, dive_id, asked, input, result, findings, planned_by, token_id, planned_at, body_digest)
			SELECT @centre, @id, @session, @dive, '{}', @input, @result, '[]', @who, (SELECT id FROM token WHERE person_id = @who), @now, ''`, args)
		w.Exec(`INSERT INTO gas_plan_person (centre_id, plan_id, participant_id, low, turn, start)
			VALUES (@centre, @id, @part, '(50,bar)', '(50,bar)', '(200,bar)')`, args)
		w.Exec(`INSERT INTO gas_plan_confirmed (centre_id, plan_id, session_id, dive_id, turn, findings, accepted, confirmed_by, token_id, confirmed_at)
			SELECT @centre, @id, @session, @dive, @turn, '[]', '[]', @who, (SELECT id FROM token WHERE person_id = @who), @now`, args)
	}
	confirm(1, nil, `{"depth": {"value": 14, "unit": "m"}, "planned_time": {"value": 20, "unit": "min"}, "ascents": 2, "starts_at": "2026-06-07T09:30:00Z"}`)
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, []string{"11:06 to 11:30, 14 m by confirmed_plan, confirmed_plan",
		"12:36 to 13:00, 14 m by confirmed_plan, confirmed_plan"}, spans(day),
		"a plan of the whole session does not say when each dive starts")
	require.Equal(t, 4, day.Ascents())
	confirm(2, dives[0], `{"depth": {"value": 12, "unit": "m"}, "planned_time": {"value": 20, "unit": "min"}, "starts_at": "2026-06-07T09:30:00Z"}`)
	day, err = w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, []string{"10:30 to 10:54, 12 m by confirmed_plan, confirmed_plan",
		"12:36 to 13:00, 14 m by confirmed_plan, confirmed_plan"}, spans(day))
	w.log(scenetest.Dive{Participant: part, Dive: dives[0], In: sunday.Add(40 * time.Minute),
		Out: sunday.Add(70 * time.Minute), Depth: read(11, "m")})
	day, err = w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Equal(t, "10:40 to 11:10, 11 m by recorded, recorded", spans(day)[0])
}

// What the centre sets counts for the day.
func TestTheCentresNumberOfDivesCounts(t *testing.T) {
	w := newWater(t)
	w.Exec(`INSERT INTO gas_settings (centre_id, settings, updated_at) VALUES (@centre, '{"dives_a_day": 1, "no_stop_margin": {"value": 7, "unit": "min"}}', @now)`, nil)
	w.part(w.Session(w.course, "open", "2026-06-07T09:00:00Z", "planned", 1, 2))
	day, err := w.reader.DivesOn(t.Context(), w.by, w.instructor, sundayDay)
	require.NoError(t, err)
	require.Len(t, day.Findings.Of(nostop.RuleManyDives), 1)
	require.Equal(t, nostop.Settings{Margin: 7, DivesADay: 1, AscentsDay: 6}, day.Settings)
}
