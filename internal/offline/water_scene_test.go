package offline_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/journal"
	"tankside/internal/offline"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg/pgtest"
	"tankside/internal/scenetest"
	"tankside/internal/sessions"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// day is a weekend without coverage: a pool session on Saturday, an open-water
// session on Sunday, four students, and three phones whose clocks are off. The
// ids are the same in every scene, so that scenes can be compared, and the
// service's clock stands still on Sunday evening.
type day struct {
	*counter
	phones          []*device
	parts, openPart map[string]uuid.UUID // of the sessions, by name
	enrolment       map[string]uuid.UUID
	pool, first     uuid.UUID // dives
	second          uuid.UUID
	guest           uuid.UUID
	red             uuid.UUID // a further group of the pool session
	other           uuid.UUID // a further course by the same syllabus
	outing          uuid.UUID
	entries         int
	before          map[string]int // what each phone kept before the unexpected turned up
}

// device is somebody's phone, with what it kept.
type device struct {
	name string
	by   actor.Actor
	off  time.Duration // what its clock reads beyond the true time
	kept []offline.BatchEntry
}

var evening = time.Date(2026, 6, 7, 20, 0, 0, 0, time.UTC)

// same makes ids come out the same in every scene that is set after it.
func same(t *testing.T) {
	t.Helper()
	uuid.SetRand(rand.NewChaCha8([32]byte{1}))
	t.Cleanup(func() { uuid.SetRand(nil) })
}

func newDay(t *testing.T) *day {
	t.Helper()
	db := pgtest.New(t)
	same(t)
	d := &day{counter: newCounterOf(t, scenetest.In(t, db)), parts: map[string]uuid.UUID{},
		openPart: map[string]uuid.UUID{}, enrolment: map[string]uuid.UUID{}}
	d.Exec(`UPDATE session SET state = 'under_way', opened_at = starts_at WHERE centre_id = @centre`, nil)
	d.Exec(`UPDATE session_group SET places_lowered = 3 WHERE session_id = @confined`,
		map[string]any{"confined": d.confined})
	blue := d.groupOf(d.confined)
	olga, abel := d.Crew("Olga Instructor", "instructor"), d.Crew("Abel Assistant", "assistant")
	ines := d.inCharge(d.confined)
	for _, in := range []struct {
		session, group uuid.UUID
		parts          map[string]uuid.UUID
	}{{d.confined, blue, d.parts}, {d.open, d.group, d.openPart}} {
		in.parts["olga"] = d.Participant(in.session, &in.group, olga, nil, "instructor")
		in.parts["abel"] = d.Participant(in.session, &in.group, abel, nil, "assistant")
		for _, name := range []string{"sara", "tom", "uma", "vic"} {
			if _, ok := d.enrolment[name]; !ok {
				d.enrolment[name] = d.Enrol(d.course, d.Student(name, "1995-05-05"))
			}
			e := d.enrolment[name]
			in.parts[name] = d.Participant(in.session, &in.group, d.PersonOf(e), &e, "student")
		}
	}
	d.Exec(`UPDATE participant SET attendance = 'expected' WHERE centre_id = @centre`, nil)
	d.guest = d.Student("Gil Guest", "1990-01-01")
	d.enrolment["gil"] = d.Enrol(d.course, d.guest)
	d.parts["gil"] = sessions.ParticipantID(d.confined, d.guest)
	d.pool, d.first, d.second = d.Dives(d.confined)[0], d.Dives(d.open)[0], d.Dives(d.open)[1]
	d.outing = d.outingOf(d.confined)
	d.Super(`CREATE OR REPLACE FUNCTION app_now() RETURNS timestamptz LANGUAGE sql VOLATILE PARALLEL SAFE RETURN '` + evening.Format(time.RFC3339) + `'::timestamptz`)
	d.phones = []*device{{name: "Ines's", by: d.sender(ines), off: -37 * time.Minute},
		{name: "Olga's", by: d.sender(olga), off: 3*time.Hour + 11*time.Second},
		{name: "Abel's", by: d.sender(abel), off: -95 * time.Second}}
	d.disagree()
	uuid.SetRand(nil)
	d.live()
	return d
}

// sender returns a person as the caller, with every scope of their roles.
func (d *day) sender(person uuid.UUID) actor.Actor {
	who := d.As(person)
	who.Scopes = access.MostScopes(who.Roles)
	return who
}

// keep keeps an entry on a phone: its times are true times, and the phone gives
// them by its own clock.
func (d *day) keep(on *device, kind journal.Kind, about uuid.UUID,
	fill func(id uuid.UUID, i *journal.Item)) uuid.UUID {
	d.entries++
	id := uuid.NewSHA1(uuid.NameSpaceOID, fmt.Appendf(nil, "%d", d.entries))
	var i journal.Item
	fill(id, &i)
	e := offline.BatchEntry{EntryID: id, Kind: kind, Item: i}
	switch kind {
	case journal.TimeIn, journal.TimeOut:
		e.DiveID = &about
	case journal.HeadCount:
		e.OutingID = &about
	default:
		e.SessionID = &about
	}
	offline.ByClock(i, on.off)
	if w, is := i.(*assessment.Signing); is {
		e.SignedAt = w.SignedAt
	}
	e.Body, _ = json.Marshal(i)
	on.kept = append(on.kept, e)
	return id
}

func key(id uuid.UUID) once.Key { return once.Key{ID: id, Digest: id[:]} }

// live lets the weekend happen.
func (d *day) live() {
	ines, olga, abel := d.phones[0], d.phones[1], d.phones[2]
	sat, sun := time.Date(2026, 6, 6, 9, 0, 0, 0, time.UTC), time.Date(2026, 6, 7, 9, 0, 0, 0, time.UTC)
	min := func(base time.Time, n int) time.Time { return base.Add(time.Duration(n) * time.Minute) }
	call := func(on *device, session, part uuid.UUID, a sessions.Attendance, at time.Time) {
		d.keep(on, journal.RollCall, session, func(id uuid.UUID, i *journal.Item) {
			*i = &sessions.NewRollCallEntry{ID: id, ParticipantID: &part, Attendance: a, WitnessedAt: at}
		})
	}
	for _, who := range []string{"sara", "tom", "uma", "abel"} {
		call(abel, d.confined, d.parts[who], sessions.Present, sat)
	}
	call(abel, d.confined, d.parts["vic"], sessions.Absent, sat)
	call(ines, d.confined, d.parts["vic"], sessions.Late, min(sat, 20))
	call(olga, d.confined, d.parts["uma"], sessions.SatOut, min(sat, 90))
	call(ines, d.confined, d.parts["abel"], sessions.LeftEarly, min(sat, 100))
	call(olga, d.open, d.openPart["abel"], sessions.Absent, sun)
	call(olga, d.open, d.openPart["olga"], sessions.Absent, min(sun, 1))
	call(ines, d.open, d.openPart["olga"], sessions.Present, min(sun, 50))
	d.keep(abel, journal.RollCall, d.confined, func(id uuid.UUID, i *journal.Item) {
		group := d.groupOf(d.confined)
		*i = &sessions.NewRollCallEntry{ID: id, Attendance: sessions.Present, WitnessedAt: min(sat, 5),
			Unexpected: &sessions.Unexpected{PersonID: d.guest, EnrolmentID: new(d.enrolment["gil"]),
				GroupID: &group, Role: sessions.Student}}
	})
	water := func(on *device, session uuid.UUID, at time.Time, visibility, current *units.Reading) {
		d.keep(on, journal.Conditions, session, func(id uuid.UUID, i *journal.Item) {
			*i = &sessions.Report{Key: key(id), SessionID: session, Visibility: visibility, Current: current,
				WitnessedAt: at}
		})
	}
	m := func(x float64) *units.Reading { return new(units.Read(x, units.UnitMetre)) }
	water(abel, d.open, min(sun, 5), m(6), nil)
	water(olga, d.open, min(sun, 30), nil, new(units.Read(0.4, units.UnitMPerSec)))
	water(ines, d.open, min(sun, 60), m(1), nil)
	for n, figure := range []int{8, 7, 7} {
		on := d.phones[n]
		d.keep(on, journal.HeadCount, d.outing, func(id uuid.UUID, i *journal.Item) {
			*i = &sessions.NewHeadCount{Key: key(id), OutingID: d.outing, Phase: "after_dive", Figure: figure,
				CountedAt: min(sat, 95+n*10)}
		})
	}
	d.keep(olga, journal.Incident, d.confined, func(id uuid.UUID, i *journal.Item) {
		*i = &sessions.NewIncident{Key: key(id), SessionID: &d.confined, What: "A cut on the foot.",
			EndsAlarm: true, OxygenFromAt: new(min(sat, 96)), WitnessedAt: min(sat, 97)}
	})
	in := func(on *device, dive, part uuid.UUID, at time.Time, team string) uuid.UUID {
		return d.keep(on, journal.TimeIn, dive, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.TimeIn{ID: id, ParticipantID: part, InAt: at, Team: &team,
				Rating: new(units.Read(200, units.UnitBar)), Start: new(units.Read(200, units.UnitBar))}
		})
	}
	out := func(on *device, dive, start uuid.UUID, at time.Time, end float64) {
		d.keep(on, journal.TimeOut, dive, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.TimeOut{ID: id, StartID: start, OutAt: at, Depth: m(4),
				End: new(units.Read(end, units.UnitBar))}
		})
	}
	saras := in(abel, d.pool, d.parts["sara"], min(sat, 10), "A")
	in(olga, d.pool, d.parts["sara"], min(sat, 9), "A")
	out(ines, d.pool, saras, min(sat, 50), 90)
	out(olga, d.pool, saras, min(sat, 48), 95)
	for _, who := range []string{"tom", "uma", "vic", "gil"} {
		start := in(abel, d.pool, d.parts[who], min(sat, 12), "A")
		out(ines, d.pool, start, min(sat, 8), 40)
	}
	out(ines, d.pool, uuid.NewSHA1(uuid.NameSpaceOID, []byte("lost")), min(sat, 50), 90) // whose time in nobody has
	for n, who := range []string{"sara", "tom"} {
		one := in(ines, d.first, d.openPart[who], min(sun, 10+45*n), "B")
		two := in(abel, d.second, d.openPart[who], min(sun, 80), "B")
		out(olga, d.first, one, min(sun, 40+45*n), 80)
		out(abel, d.second, two, min(sun, 110), 70)
	}
	for n := range 12 {
		who := []string{"sara", "tom", "gil"}[n%3]
		d.keep(d.phones[n%2+1], journal.GasCheck, d.confined, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.GasCheck{ID: id, ParticipantID: d.parts[who],
				Reading:   new(units.Read(320-float64(n)*11, units.UnitBar)),
				Signalled: new(units.Read(150, units.UnitBar)), WitnessedAt: min(sat, 14+n)}
		})
	}
	d.learn(ines, olga, abel, sat, sun)
	d.before = map[string]int{}
	for _, p := range d.phones {
		d.before[p.name] = len(p.kept)
	}
	d.turnUp(sat)
}

// send sends some entries as the phone does now, in a true time at which the
// service's clock stands still.
func (p *device) send(ctx context.Context, s *offline.Service,
	entries []offline.BatchEntry) (offline.BatchResult, error) {
	return s.Send(ctx, p.by, offline.Batch{Device: p.name, SentAt: evening.Add(p.off), Entries: entries})
}

// left writes down everything that the weekend left, but when it was recorded
// and in which order.
func (d *day) left(t *testing.T) string {
	t.Helper()
	require.NoError(t, d.offline.WorkOff(t.Context(), d.Centre))
	var out []any
	add := func(v any, err error) {
		t.Helper()
		require.NoError(t, err)
		out = append(out, v)
	}
	for _, session := range []uuid.UUID{d.confined, d.open} {
		dives, err := d.desk.Dives(t.Context(), d.by, session)
		add(dives, err)
		all := page.Request{Limit: 200}
		checks, _, err := d.waterlog.GasChecks(t.Context(), d.by, session, nil, all)
		for i := range checks {
			checks[i].RecordedAt = time.Time{}
		}
		add(checks, err)
		tries, _, err := d.waterlog.Attempts(t.Context(), d.by, session, nil, all)
		for i := range tries {
			tries[i].RecordedAt = time.Time{}
		}
		add(tries, err)
		heads, _, err := d.desk.Entries(t.Context(), d.by, session, nil, all)
		for i := range heads {
			heads[i].RecordedAt = time.Time{}
		}
		add(heads, err)
		signed, err := d.assessment.SessionSignOffs(t.Context(), d.by, session)
		for i := range signed {
			signed[i].RecordedAt = time.Time{}
		}
		add(signed, err)
		incidents, err := d.sessions.Incidents(t.Context(), d.by, nil, &session)
		for i := range incidents {
			incidents[i].RecordedAt = time.Time{}
		}
		add(incidents, err)
		add(d.rows(t, session), nil)
	}
	counts, err := d.sessions.HeadCounts(t.Context(), d.by, d.outing)
	for i := range counts {
		counts[i].RecordedAt = time.Time{}
	}
	add(counts, err)
	view, err := d.sessions.Outing(t.Context(), d.by, d.outing)
	add([]any{view.Aboard, view.Counts}, err)
	for _, course := range []uuid.UUID{d.course, d.other} {
		progress, _, err := d.assessment.CourseProgress(t.Context(), d.by, course)
		add(progress, err)
	}
	held, _, err := d.offline.HeldEntries(t.Context(), d.by,
		[]string{"held", "expired", "refused", "dropped", "recorded"}, nil, page.Request{Limit: 200})
	slices.SortFunc(held, func(a, b offline.Held) int { return slices.Compare(a.ID[:], b.ID[:]) })
	var waiting []any
	for _, h := range held {
		waiting = append(waiting,
			[]any{h.EntryID, h.Kind, h.State, h.Device, h.CorrectionS, h.DeviceAt, h.WitnessedAt(), h.Why()})
	}
	add(waiting, err)
	text, err := json.MarshalIndent(out, "", " ")
	require.NoError(t, err)
	return string(text)
}
