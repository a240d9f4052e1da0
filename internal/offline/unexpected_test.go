package offline_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/assessment"
	"tankside/internal/journal"
	"tankside/internal/offline"
	"tankside/internal/sessions"
	"tankside/internal/units"
	"tankside/internal/waterlog"
)

// disagree has two people turn up at the pool whom nobody expected and of whom
// the phones will say different things: Pia, who is on two courses, and Otto, an
// instructor who is on this one. Otto has a phone too.
func (d *day) disagree() {
	d.red = d.Group(d.confined, "red", d.Crew("Rui Instructor", "instructor"))
	d.other = uuid.New()
	d.CourseBy(d.other, d.SyllabusOf(d.course))
	pia, otto := d.Student("Pia Unexpected", "1991-01-01"), d.Crew("Otto Unexpected", "instructor")
	d.enrolment["pia"], d.enrolment["pia there"], d.enrolment["otto"] = d.Enrol(d.course, pia), d.Enrol(d.other,
		pia), d.Enrol(d.course, otto)
	d.parts["pia"], d.parts["otto"] = sessions.ParticipantID(d.confined,
		pia), sessions.ParticipantID(d.confined, otto)
	d.phones = append(d.phones, &device{name: "Otto's", by: d.sender(otto), off: 4 * time.Second})
}

// turnUp has the phones say who came unexpected, each by its own lights, and
// what those people did and saw.
func (d *day) turnUp(sat time.Time) {
	ines, olga, abel, otto := d.phones[0], d.phones[1], d.phones[2], d.phones[3]
	min := func(n int) time.Time { return sat.Add(time.Duration(n) * time.Minute) }
	came := func(on *device, n int, who string, a sessions.Attendance, role sessions.Role, group *uuid.UUID,
		enrolment string) {
		d.keep(on, journal.RollCall, d.confined, func(id uuid.UUID, i *journal.Item) {
			u := sessions.Unexpected{PersonID: d.PersonOf(d.enrolment[who]), Role: role, GroupID: group}
			if enrolment != "" {
				u.EnrolmentID = new(d.enrolment[enrolment])
			}
			*i = &sessions.NewRollCallEntry{ID: id, Attendance: a, WitnessedAt: min(n), Unexpected: &u}
		})
	}
	blue, unknown := d.groupOf(d.confined), uuid.NewSHA1(uuid.NameSpaceOID, []byte("no group"))
	came(abel, 6, "pia", sessions.Present, sessions.Student, &blue, "pia")
	came(olga, 3, "pia", sessions.Late, sessions.Student, &d.red, "pia there")
	came(ines, 8, "pia", sessions.Present, sessions.Assistant, nil, "")
	came(ines, 2, "pia", sessions.Present, sessions.Student, &unknown, "pia") // no such group: held for good
	came(abel, 7, "otto", sessions.Present, sessions.Instructor, &blue, "")
	came(olga, 4, "otto", sessions.Present, sessions.Student, &d.red, "otto")
	came(ines, 4, "otto", sessions.Present, sessions.Student, nil, "otto") // at the same moment
	for n, who := range []string{"pia", "otto"} {
		start := d.keep(abel, journal.TimeIn, d.pool, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.TimeIn{ID: id, ParticipantID: d.parts[who], InAt: min(12 + n)}
		})
		d.keep(olga, journal.TimeOut, d.pool, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.TimeOut{ID: id, StartID: start, OutAt: min(50),
				Depth: new(units.Read(9, units.UnitMetre))} // deeper than a student may
		})
		d.keep(ines, journal.DrillAttempt, d.confined, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.Attempt{ID: id, ParticipantID: d.parts[who], Skill: "swim", Met: true,
				WitnessedAt: min(35 + n),
				Measures: []waterlog.Measured{{Name: "swim-without-aids", Value: units.DecimalOf(205),
					Unit: units.UnitMetre}}}
		})
		d.keep(abel, journal.GasResponse, d.confined, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.Response{ID: id, ParticipantID: d.parts[who], What: "turned",
				WitnessedAt: min(40)}
		})
	}
	d.keep(olga, journal.GasResponse, d.confined, func(id uuid.UUID, i *journal.Item) {
		*i = &waterlog.Response{ID: id, ParticipantID: d.parts["vic"], What: "turned", WitnessedAt: min(42)} // absent, and late
	})
	d.keep(otto, journal.LogCompletion, d.confined, func(id uuid.UUID, i *journal.Item) {
		*i = &waterlog.LogCompletion{ID: id, WitnessedAt: min(100)}
	})
	d.keep(otto, journal.GasCheck, d.confined, func(id uuid.UUID, i *journal.Item) {
		*i = &waterlog.GasCheck{ID: id, ParticipantID: d.parts["pia"],
			Reading: new(units.Read(120, units.UnitBar)), NoAnswer: true, WitnessedAt: min(20)}
	})
	d.keep(otto, journal.RollCall, d.confined, func(id uuid.UUID, i *journal.Item) {
		*i = &sessions.NewRollCallEntry{ID: id, ParticipantID: new(d.parts["tom"]),
			Attendance: sessions.Present, WitnessedAt: min(7)}
	})
	sign := func(on *device, n int, enrolment, skill string) {
		d.keep(on, journal.SignOff, d.confined, func(id uuid.UUID, i *journal.Item) {
			*i = &assessment.Signing{ID: id, EnrolmentID: d.enrolment[enrolment], Skill: skill,
				SignedAt: new(min(n))}
		})
	}
	for n, skill := range []string{"swim", "kit-check"} {
		for k, enrolment := range []string{"pia", "pia there", "otto"} { // two of them for somebody who takes part by another
			sign(ines, 140+3*n+k, enrolment, skill)
		}
	}
	sign(otto, 150, "sara", "kit-check")
}

// learn has what was tried and signed.
func (d *day) learn(ines, olga, abel *device, sat, sun time.Time) {
	min := func(base time.Time, n int) time.Time { return base.Add(time.Duration(n) * time.Minute) }
	try := func(on *device, session, part uuid.UUID, skill, measure string, x float64, unit units.Unit,
		at time.Time) uuid.UUID {
		return d.keep(on, journal.DrillAttempt, session, func(id uuid.UUID, i *journal.Item) {
			*i = &waterlog.Attempt{ID: id, ParticipantID: part, Skill: skill, Met: true, WitnessedAt: at,
				Measures: []waterlog.Measured{{Name: measure, Value: units.DecimalOf(x), Unit: unit}}}
		})
	}
	sign := func(on *device, session uuid.UUID, who, skill string, at time.Time, evidence ...uuid.UUID) {
		d.keep(on, journal.SignOff, session, func(id uuid.UUID, i *journal.Item) {
			*i = &assessment.Signing{ID: id, EnrolmentID: d.enrolment[who], Skill: skill, Evidence: evidence,
				SignedAt: &at}
		})
	}
	try(abel, d.confined, d.parts["sara"], "swim", "swim-without-aids", 210, units.UnitMetre, min(sat, 30))
	try(olga, d.confined, d.parts["sara"], "swim", "swim-without-aids", 200, units.UnitMetre, min(sat, 32))
	try(ines, d.confined, d.parts["sara"], "swim", "swim-without-aids", 150, units.UnitMetre, min(sat, 25))
	float := try(abel, d.confined, d.parts["sara"], "float", "time-afloat", 10, units.UnitMinute, min(sat, 40))
	sign(ines, d.confined, "sara", "swim", min(sat, 130))
	sign(olga, d.confined, "sara", "swim", min(sat, 125))
	sign(olga, d.confined, "sara", "float", min(sat, 126), float)
	sign(ines, d.confined, "sara", "kit-check", min(sat, 131))
	sign(olga, d.confined, "sara", "kit-check", min(sat, 131)) // at the same moment
	sign(olga, d.confined, "sara", "water-entry", min(sat, 127))
	sign(ines, d.confined, "sara", "weights", min(sat, 128))
	sign(olga, d.confined, "sara", "regulator-recovery", min(sat, 129))
	sign(ines, d.confined, "sara", "descent", min(sat, 132))
	sign(olga, d.open, "sara", "kit-check-open", min(sun, 120))
	sign(ines, d.open, "sara", "water-entry-open", min(sun, 121))
	sign(olga, d.open, "sara", "descent-open", min(sun, 122))
	sign(ines, d.confined, "uma", "kit-check",
		min(sat, 133)) // sat out, says the roll call
	sign(ines, d.confined, "gil", "kit-check",
		min(sat, 134)) // whom only a roll call brings
	sign(olga, d.confined, "tom", "swim",
		min(sat, 135)) // which nobody saw measured: held for good
	sign(olga, d.confined, "tom", "mask-clearing",
		min(sat, 136)) // what comes before is missing: held for good
	sign(abel, d.confined, "tom", "kit-check",
		min(sat, 137)) // an assistant signs nothing
	try(abel, d.confined, d.parts["tom"], "moonwalk", "x", 1, "",
		min(sat, 30)) // no such skill: held for good
	try(abel, d.confined, d.parts["tom"], "float", "time-afloat", 10, units.UnitMinute,
		evening.AddDate(0, 0, 2)) // two days ahead of any clock: refused
}

// What roll calls say differently of people whom nobody expected, and what those
// people did and saw, comes in one entry at a time, in any order.
func TestEveryOrderOfArrivalOfTheUnexpectedEndsTheSame(t *testing.T) {
	seeds := []uint64{0} // in order
	for range 8 {
		seeds = append(seeds, rand.Uint64())
	}
	var want string
	for _, seed := range seeds {
		d := newDay(t)
		type kept struct {
			on *device
			at int
		}
		var all []kept
		for _, p := range d.phones {
			for i := d.before[p.name]; i < len(p.kept); i++ {
				all = append(all, kept{p, i})
			}
		}
		require.Len(t, all, 26)
		if seed != 0 {
			rand.New(rand.NewPCG(seed, 0)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		}
		for _, k := range all {
			_, err := k.on.send(d.Context(), d.offline, k.on.kept[k.at:k.at+1])
			require.NoError(t, err)
		}
		if seed == 0 {
			want = d.left(t)
			continue
		}
		if at, line := differ(want, d.left(t)); line != "" {
			require.Fail(t, "another order left something else", "seed %d, from line %d on:\n%s", seed, at,
				line)
		}
	}
}

// What is recorded last may be what another entry of the same round waits for.
func TestWhatIsHeldIsJudgedUntilNothingMoreStands(t *testing.T) {
	d := newDay(t)
	olga, abel, otto := d.phones[1], d.phones[2], d.phones[3]
	of := func(p *device, fits func(*sessions.NewRollCallEntry) bool) []offline.BatchEntry {
		i := slices.IndexFunc(p.kept,
			func(e offline.BatchEntry) bool { return callOf(e) != nil && fits(callOf(e)) })
		return p.kept[i : i+1]
	}
	saw := of(otto, func(*sessions.NewRollCallEntry) bool { return true })
	came := of(abel, func(c *sessions.NewRollCallEntry) bool {
		return c.Unexpected != nil && c.Unexpected.Role == sessions.Instructor
	})
	before := of(olga, func(c *sessions.NewRollCallEntry) bool {
		return c.Unexpected != nil && c.Unexpected.PersonID == callOf(came[0]).Unexpected.PersonID
	})
	require.Equal(t, sessions.Student, callOf(before[0]).Unexpected.Role,
		"who counts, since she saw him earlier; but one who says crew is enough")
	a, err := otto.send(d.Context(), d.offline, saw)
	require.NoError(t, err)
	require.Equal(t, offline.OnHold, a.Results[0].Status, "nobody knows yet that Otto is of the crew")
	_, err = olga.send(d.Context(), d.offline, before)
	require.NoError(t, err)
	_, err = abel.send(d.Context(), d.offline, came)
	require.NoError(t, err)
	require.NoError(t, d.offline.WorkOff(t.Context(), d.Centre))
	a, err = otto.send(d.Context(), d.offline, saw)
	require.NoError(t, err)
	require.Equal(t, journal.AlreadyRecorded, a.Results[0].Status)
}

// callOf returns the roll call that an entry is, nil where it is none.
func callOf(e offline.BatchEntry) *sessions.NewRollCallEntry {
	c, _ := e.Item.(*sessions.NewRollCallEntry)
	return c
}
