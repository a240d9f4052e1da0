package diveday

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/scenetest"
	"tankside/internal/units"
)

var sunday = time.Date(2026, 6, 7, 9, 0, 0, 0, time.UTC)

func litres(r units.Rate) float64 { return r.In(units.UnitLPerMin) }

// A dive school's page: 12 L, 200 to 150 bar in 10 min at 20 m are 20 L/min
// (worked_examples.csv W15), by the ideal law and with 1 bar at the surface. As a
// real gas the 50 bar hold less: Z of air at 293 K is 1.00101 at 150 bar and 1.02602 at
// 200 bar (z_air.csv), and the surface is 1 atmosphere.
func TestTheRateOfAPublishedExample(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1)
	w.log(scenetest.Dive{Participant: w.part(open), Dive: w.Dives(open)[0], In: sunday,
		Out:  sunday.Add(30 * time.Minute),
		Size: read(12, "L"), Rating: read(232, "bar"),
		Checks: []scenetest.GasCheck{{At: sunday.Add(5 * time.Minute), Depth: read(20, "m"),
			Reading: units.Read(200, "bar"), NamesDive: true},
			{At: sunday.Add(15 * time.Minute), Depth: read(20, "m"), Reading: units.Read(150, "bar"),
				NamesDive: false}}})
	r, err := w.reader.BreathingRate(t.Context(), w.by, w.instructor)
	require.NoError(t, err)
	require.Len(t, r.Dives, 1)
	require.Equal(t, FromChecks, r.Dives[0].Basis)
	const z150, z200, atmosphere = 1.00101, 1.02602, 1.01325
	require.InDelta(t, 20*(200/z200-150/z150)/50/atmosphere, litres(r.Dives[0].Estimate.Rate), 0.1)
	require.Less(t, r.Dives[0].Estimate.Low, r.Dives[0].Estimate.Rate)
	require.Equal(t, 1, r.Learned.Dives)
	require.True(t, r.Novice())
	require.Equal(t, gas.NoviceRate, r.Learned.Planned, "one dive of 20 L/min does not lower a novice's value")
	require.Greater(t, r.Learned.Planned, r.Learned.Typical)
}

// Going below the novice's rate needs three dives in open water, and an hour in the
// pool lowers nothing: both are our choice.
func TestOneHourInThePoolMakesNobodyExperienced(t *testing.T) {
	w := newWater(t)
	dive := func(kind string, day int, litres float64) {
		s := w.Session(w.course, kind, fmt.Sprintf("2026-06-%02dT09:00:00Z", day), "closed", 1)
		in := time.Date(2026, 6, day, 9, 0, 0, 0, time.UTC)
		deep, times := 18.0, 1.9 // 9 m as the mean
		if kind == "confined" {
			deep, times = 4, 1.2
		}
		w.log(scenetest.Dive{Participant: w.part(s), Dive: w.Dives(s)[0], In: in, Out: in.Add(30 * time.Minute),
			Depth: read(deep, "m"), Size: read(12, "L"),
			Start: read(200, "bar"), End: read(math.Round(200-litres*times*30/12), "bar")})
	}
	known := func() BreathingRate {
		r, err := w.reader.BreathingRate(t.Context(), w.by, w.instructor)
		require.NoError(t, err)
		return r
	}
	dive("confined", 1, 11)
	require.Equal(t, "novice's rate: a lower one needs 3 dives in open water, and there is none",
		known().From())
	require.Equal(t, gas.NoviceRate, known().Learned.Planned)
	dive("open", 2, 15)
	dive("open", 3, 15)
	require.Equal(t, "novice's rate: a lower one needs 3 dives in open water, and 2 can be learned from",
		known().From())
	require.Equal(t, gas.NoviceRate, known().Learned.Planned)
	dive("open", 4, 15)
	three := known()
	require.Equal(t, "learned from 3 dives in open water", three.From()[:34])
	require.Less(t, three.Learned.Planned, gas.NoviceRate)
	require.False(t, three.Novice())
	dive("confined", 5, 11)
	require.GreaterOrEqual(t, known().Learned.Planned, three.Learned.Planned,
		"a quiet hour in the pool lowers nothing")
	dive("confined", 6, 40)
	require.Greater(t, known().Learned.Planned, three.Learned.Planned, "a hungry one in the pool counts")
}

// A magazine's article: 12 L, 200 to 60 bar in 45 min at a mean depth of 12 m are
// 17 L/min, rounded up (worked_examples.csv W10); as a real gas 4 % less. Half of
// 24 m is that mean.
func TestTheRateFromStartAndEndAlone(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1)
	w.log(scenetest.Dive{Participant: w.part(open), Dive: w.Dives(open)[0], In: sunday,
		Out:   sunday.Add(45 * time.Minute),
		Depth: read(24, "m"), Size: read(12, "L"),
		Start: read(200, "bar"), End: read(60, "bar")})
	r, err := w.reader.BreathingRate(t.Context(), w.by, w.instructor)
	require.NoError(t, err)
	require.Equal(t, FromEnds, r.Dives[0].Basis)
	e := r.Dives[0].Estimate
	require.InDelta(t, 17, litres(e.Rate), 17*0.07)
	// At 24 m throughout the pressure is 3.4 atmospheres against 2.2, at a mean of 6 m 1.6.
	require.Less(t, litres(e.Low), litres(e.Rate)*2.2/3.4)
	require.Greater(t, litres(e.High), litres(e.Rate)*2.2/1.6)
}

func TestNothingIsKnownOfANovice(t *testing.T) {
	w := newWater(t)
	sofia := w.Student("Sofia Student", "1995-05-05")
	r, err := w.reader.BreathingRate(t.Context(), w.As(sofia), sofia)
	require.NoError(t, err)
	require.True(t, r.Novice())
	require.InDelta(t, 25, litres(r.Learned.Planned), 1e-9, "a study guide's value for a first dive")
	_, err = w.reader.BreathingRate(t.Context(), w.As(sofia), w.instructor)
	require.ErrorIs(t, err, fault.Forbidden.Err())
	_, err = w.reader.BreathingRate(t.Context(), w.by, uuid.New())
	require.ErrorIs(t, err, fault.NotFound.Err())
}

// fiveChecks is a dive at 10 m at 20 L/min from a 12 L cylinder, one gauge misread
// by 40 bar. By the ideal law 20 L/min at 2 atmospheres are 3.4 bar a minute.
func fiveChecks(w *water, part, dive uuid.UUID, in time.Time) scenetest.Dive {
	d := scenetest.Dive{Participant: part, Dive: dive, In: in, Out: in.Add(32 * time.Minute), Depth: read(10, "m"),
		Size: read(12, "L"), Rating: read(200, "bar"),
		Start: read(200, "bar"), End: read(100, "bar")}
	for i, bar := range []float64{180, 163, 106, 129, 112} { // 106 ought to be 146
		d.Checks = append(d.Checks,
			scenetest.GasCheck{At: in.Add(time.Duration(6+5*i) * time.Minute), Depth: read(10, "m"),
				Reading: units.Read(bar, "bar"), NamesDive: true})
	}
	return d
}

func TestAMisreadGaugeIsNamedAndAVoidedEntryLeftOut(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1, 2)
	part, dives := w.part(open), w.Dives(open)
	start, _ := w.log(fiveChecks(w, part, dives[0], sunday))
	r, err := w.reader.BreathingRate(t.Context(), w.by, w.instructor)
	require.NoError(t, err)
	require.Len(t, r.Dives[0].Readings, 7, "five checks, start and end")
	misread := r.Dives[0].Misread()
	require.Len(t, misread, 1)
	require.Equal(t, units.Read(106, "bar"), misread[0].Reading)
	require.InDelta(t, 20, litres(r.Dives[0].Estimate.Rate), 2)

	w.void(misread[0].ID)
	r, err = w.reader.BreathingRate(t.Context(), w.by, w.instructor)
	require.NoError(t, err)
	require.Len(t, r.Dives[0].Readings, 6)
	require.Empty(t, r.Dives[0].Misread())

	w.void(start)
	r, err = w.reader.BreathingRate(t.Context(), w.by, w.instructor)
	require.NoError(t, err)
	require.Empty(t, r.Dives)
	require.True(t, r.Novice())
}

func TestADiveFromWhichNothingFollowsSaysWhy(t *testing.T) {
	for because, change := range map[string]func(d *scenetest.Dive){
		"the size of the cylinder was not recorded": func(d *scenetest.Dive) { d.Size = nil },
		"the cylinder's capacity was recorded in cubic feet": func(d *scenetest.Dive) {
			d.Size, d.Rating = read(80, "cu_ft"), nil
		},
		"the cylinder recorded is not possible": func(d *scenetest.Dive) { d.Size = read(500, "L") },
		"fewer than two readings": func(d *scenetest.Dive) {
			d.Checks, d.Start = nil, nil
		},
		"neither a depth of a gas check nor the greatest depth was recorded": func(d *scenetest.Dive) {
			d.Checks, d.Depth = nil, nil
		},
		"the pressure did not fall between the checks: no breathing rate follows": func(d *scenetest.Dive) {
			d.Checks, d.End = nil, read(200, "bar")
		},
	} {
		t.Run(because, func(t *testing.T) {
			t.Parallel()
			w := newWater(t)
			open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1)
			d := fiveChecks(w, w.part(open), w.Dives(open)[0], sunday)
			change(&d)
			w.log(d)
			r, err := w.reader.BreathingRate(t.Context(), w.by, w.instructor)
			require.NoError(t, err)
			require.Empty(t, r.Dives)
			require.Len(t, r.Unrated, 1)
			require.Contains(t, r.Unrated[0].Because, because)
		})
	}
}

// A dive that has not ended, or ended later than the instant asked about, is not
// learned from: a plan is judged again years later by what was known then.
func TestRatesOfManyAreThoseKnownBefore(t *testing.T) {
	w := newWater(t)
	open := w.Session(w.course, "open", "2026-06-07T09:00:00Z", "under_way", 1, 2)
	other := w.Crew("Abel Assistant", "assistant")
	dives := w.Dives(open)
	w.log(fiveChecks(w, w.part(open), dives[0], sunday))
	second := fiveChecks(w, w.part(open), dives[1], sunday.Add(2*time.Hour))
	w.log(second)
	known := func(before time.Time) (mine, his int) {
		w.in(func(ctx context.Context, tx *pg.Tx) error {
			var b pgx.Batch
			read := QueueRates(&b, []uuid.UUID{w.instructor, other, other}, before)
			require.NoError(t, tx.Send(ctx, &b))
			rates := read()
			require.Len(t, rates, 2)
			mine, his = rates[w.instructor].Learned.Dives, rates[other].Learned.Dives
			return nil
		})
		return mine, his
	}
	mine, his := known(sunday)
	require.Equal(t, []int{0, 0}, []int{mine, his})
	mine, _ = known(sunday.Add(time.Hour))
	require.Equal(t, 1, mine)
	mine, his = known(sunday.Add(5 * time.Hour))
	require.Equal(t, []int{2, 0}, []int{mine, his})
}
