package signal_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/signal"
	"tankside/internal/units"
)

var began = time.Date(2027, 6, 5, 8, 0, 0, 0, time.UTC)

func at(minutes float64) time.Time {
	return began.Add(time.Duration(minutes * float64(time.Minute)))
}

func seen(id string, minutes float64, r *units.Reading) signal.SeenCheck {
	return signal.SeenCheck{ID: id, At: at(minutes), Reading: r}
}

func said(id string, minutes float64, r *units.Reading) signal.SeenCheck {
	return signal.SeenCheck{ID: id, At: at(minutes), Signalled: r}
}

func ids(l finding.List) (out []string) {
	for _, f := range l {
		out = append(out, f.Rule)
	}
	return out
}

// A reading or report at or below a turn or low-gas pressure has reached it (our
// choice, to the safe side). That the group turns, and that a diver who is low
// signals and goes up, is common practice.
func TestACheckByItselfReachesAMark(t *testing.T) {
	marks := signal.Marks{Turn: bar(120), LowGas: bar(55)}
	for _, c := range []struct {
		name string
		look signal.SeenCheck
		want []string
	}{
		{"above both", seen("a", 1, bar(121)), nil},
		{"at the turn pressure", seen("a", 1, bar(120)), []string{"signal.turn_reached"}},
		{"just above it", seen("a", 1, bar(120.01)), nil},
		{"below it", seen("a", 1, bar(90)), []string{"signal.turn_reached"}},
		{"at the low-gas pressure, which is the graver", seen("a", 1, bar(55)),
			[]string{"signal.low_gas_reached"}},
		{"a report of it where nobody saw the gauge", said("a", 1, bar(120)), []string{"signal.turn_reached"}},
		{"the reading counts and not the report", signal.SeenCheck{Reading: bar(125), Signalled: bar(110)},
			nil},
		{"the reading counts and not the higher report",
			signal.SeenCheck{Reading: bar(54), Signalled: bar(130)}, []string{"signal.low_gas_reached"}},
		{"nothing seen", signal.SeenCheck{}, nil},
		// 120 bar is 1740.45 psi, 55 bar is 797.71 psi.
		{"at or below in the other unit", seen("a", 1, psi(1740)), []string{"signal.turn_reached"}},
		{"above in the other unit", seen("a", 1, psi(1741)), nil},
		{"low in the other unit", seen("a", 1, psi(797)), []string{"signal.low_gas_reached"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, ids(signal.JudgeMarks(marks, c.look)))
		})
	}
	require.Empty(t, signal.JudgeMarks(signal.Marks{}, seen("a", 1, bar(10))),
		"without a plan nothing is reached")
	f := signal.JudgeMarks(marks, said("a", 1, bar(50)))[0]
	require.Equal(t, "50 bar was reported, at or below the low-gas pressure of 55 bar. The diver signals low on gas, the buddy closes up, and the ascent begins.", f.Message)
}

func deed(id string, minutes float64, what signal.Response) signal.SeenResponse {
	return signal.SeenResponse{ID: id, At: at(minutes), What: what}
}

// state gives an expected response as the tests read it.
func state(e signal.Expected) string {
	by := ""
	if e.Ended != nil {
		by = e.Ended.ID
	}
	return fmt.Sprintf("%s %s %s %s", e.What, e.State, e.After, by)
}

func TestWhatIsExpectedIsFollowedUntilItHappens(t *testing.T) {
	marks := signal.Marks{Turn: bar(120), LowGas: bar(55)}
	turning := []signal.SeenCheck{seen("b", 6, bar(118)), seen("a", 3, bar(150))}
	low := append(turning, seen("c", 12, bar(54)))
	out := deed("out", 20, "")
	for _, c := range []struct {
		name  string
		looks []signal.SeenCheck
		deeds []signal.SeenResponse
		out   *signal.SeenResponse
		want  []string
		open  signal.Response
		finds []string
	}{
		{"turn reached, nothing seen yet", turning, nil, nil, []string{"turned pending 9m0s "}, signal.Turned,
			[]string{"signal.turn_reached"}},
		{"the group turned", turning, []signal.SeenResponse{deed("d", 7, signal.Turned)}, nil,
			[]string{"turned done 1m0s d"}, "", []string{"signal.turn_reached"}},
		{"the group had turned before the check", turning, []signal.SeenResponse{deed("d", 5, signal.Turned)},
			nil, []string{"turned done 0s d"}, "", []string{"signal.turn_reached"}},
		{"it went up instead", turning, []signal.SeenResponse{deed("d", 8, signal.AscentBegun)}, nil,
			[]string{"turned overtaken 2m0s d"}, "", []string{"signal.turn_reached"}},
		{"a low-gas sign is no turn", turning, []signal.SeenResponse{deed("d", 8, signal.SignalledLow)}, nil,
			[]string{"turned pending 9m0s "}, signal.Turned, []string{"signal.turn_reached"}},
		{"the dive ended, nothing recorded", turning, nil, &out, []string{"turned dive_ended 14m0s out"}, "",
			[]string{"signal.turn_reached", "signal.response_not_seen"}},
		{"what was seen counts, after the time out by another clock too", turning,
			[]signal.SeenResponse{deed("d", 21, signal.Turned)}, &out, []string{"turned done 15m0s d"}, "",
			[]string{"signal.turn_reached"}},
		{"low, turned before", low, []signal.SeenResponse{deed("d", 7, signal.Turned)}, nil,
			[]string{"turned done 1m0s d", "signalled_low pending 3m0s ", "ascent_begun pending 3m0s "},
			signal.SignalledLow, []string{"signal.turn_reached", "signal.low_gas_reached"}},
		{"low and signalled", low,
			[]signal.SeenResponse{deed("d", 7, signal.Turned), deed("e", 12.5, signal.SignalledLow)}, nil,
			[]string{"turned done 1m0s d", "signalled_low done 30s e", "ascent_begun pending 3m0s "},
			signal.AscentBegun, []string{"signal.turn_reached", "signal.low_gas_reached"}},
		{"signalled and up", low,
			[]signal.SeenResponse{deed("f", 13, signal.AscentBegun), deed("e", 12.5, signal.SignalledLow),
				deed("d", 7, signal.Turned)}, nil,
			[]string{"turned done 1m0s d", "signalled_low done 30s e", "ascent_begun done 1m0s f"}, "",
			[]string{"signal.turn_reached", "signal.low_gas_reached"}},
		{"one check reaches both", []signal.SeenCheck{seen("c", 12, bar(50))}, nil, nil,
			[]string{"turned pending 3m0s ", "signalled_low pending 3m0s ", "ascent_begun pending 3m0s "},
			signal.SignalledLow, []string{"signal.turn_reached", "signal.low_gas_reached"}},
		{"nothing reached", []signal.SeenCheck{seen("a", 3, bar(150))}, nil, nil, nil, "", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			reached := signal.Watch(signal.DiveWatch{Marks: marks, Looks: c.looks, Deeds: c.deeds, Out: c.out,
				Now: at(15)})
			var got, found []string
			for _, r := range reached {
				for _, e := range r.Expected {
					got = append(got, state(e))
				}
				found = append(found, ids(r.Findings)...)
			}
			require.Equal(t, c.want, got)
			require.Equal(t, c.finds, found)
			require.Equal(t, c.open, signal.PendingResponse(reached))
		})
	}
}

// The first check at or below is the one, by the time at which it was
// witnessed; a later, higher reading does not take it back.
func TestTheFirstCheckAtOrBelowIsTheOne(t *testing.T) {
	reached := signal.Watch(signal.DiveWatch{Marks: signal.Marks{Turn: bar(120)}, Now: at(15),
		Looks: []signal.SeenCheck{seen("d", 9, bar(100)), seen("c", 6, bar(125)), seen("b", 5, bar(119)),
			seen("a", 5, bar(118))}})
	require.Len(t, reached, 1)
	require.Equal(t, "a", reached[0].Look.ID, "of two at one moment the lower id")
	require.Equal(t, "118 bar", reached[0].Found.String())
	require.False(t, reached[0].Reported)
}

// Every order of arrival ends in the same.
func TestTheWatchDoesNotDependOnTheOrderOfArrival(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minute := rapid.IntRange(0, 6)
		w := signal.DiveWatch{Marks: signal.Marks{Turn: bar(120), LowGas: bar(60)}, Now: at(30)}
		for i := range rapid.IntRange(0, 8).Draw(t, "looks") {
			w.Looks = append(w.Looks,
				seen(fmt.Sprint("look", i), float64(minute.Draw(t, "at")),
					bar(float64(rapid.IntRange(0, 200).Draw(t, "bar")))))
		}
		for i := range rapid.IntRange(0, 5).Draw(t, "deeds") {
			what := rapid.SampledFrom([]signal.Response{signal.Turned, signal.SignalledLow,
				signal.AscentBegun}).Draw(t, "what")
			w.Deeds = append(w.Deeds, deed(fmt.Sprint("deed", i), float64(minute.Draw(t, "at")), what))
		}
		want := fmt.Sprintf("%+v", words(signal.Watch(w)))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		r.Shuffle(len(w.Looks), func(i, j int) { w.Looks[i], w.Looks[j] = w.Looks[j], w.Looks[i] })
		r.Shuffle(len(w.Deeds), func(i, j int) { w.Deeds[i], w.Deeds[j] = w.Deeds[j], w.Deeds[i] })
		require.Equal(t, want, fmt.Sprintf("%+v", words(signal.Watch(w))))
	})
}

func words(reached []signal.Reached) (out []string) {
	for _, r := range reached {
		out = append(out, string(r.Mark)+" "+r.Look.ID+" "+r.Found.String())
		for _, e := range r.Expected {
			out = append(out, state(e))
		}
		out = append(out, ids(r.Findings)...)
	}
	return out
}

// A look every two minutes was agreed (an example of common practice: every
// minute or two).
func TestGapsAreLongerThanAgreed(t *testing.T) {
	none := bar(100)
	out := at(10)
	for _, c := range []struct {
		name  string
		looks []signal.SeenCheck
		out   *time.Time
		every time.Duration
		want  []string
	}{
		{"kept to the second", []signal.SeenCheck{seen("b", 4, none), seen("a", 2, none), seen("c", 6, none),
			seen("d", 8, none)}, &out, 2 * time.Minute, nil},
		{"late by a second", []signal.SeenCheck{seen("a", 2, none), seen("b", 4+1.0/60, none),
			seen("c", 6, none), seen("d", 8, none)}, &out, 2 * time.Minute, []string{"a b 2m1s"}},
		{"no look at all", nil, &out, 2 * time.Minute, []string{"in out 10m0s"}},
		{"from the time in, and to the time out", []signal.SeenCheck{seen("a", 5, none)}, &out, 2 * time.Minute,
			[]string{"in a 5m0s", "a out 5m0s"}},
		{"no time out: judged as far as the last look",
			[]signal.SeenCheck{seen("a", 2, none), seen("b", 6, none)}, nil, 2 * time.Minute,
			[]string{"a b 4m0s"}},
		{"on the surface nothing is late",
			[]signal.SeenCheck{seen("z", -5, none), seen("a", 2, none), seen("b", 4, none), seen("c", 6, none),
				seen("d", 8, none), seen("e", 30, none)}, &out, 2 * time.Minute, nil},
		{"nothing was agreed", nil, &out, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, g := range signal.Gaps(signal.TimeInWater{InID: "in", OutID: "out", In: began, Out: c.out,
				Looks: c.looks, Every: c.every}) {
				got = append(got, fmt.Sprint(g.FromID, " ", g.ToID, " ", g.To.Sub(g.From)))
				require.Equal(t, []string{"signal.check_gap"}, ids(g.Findings))
			}
			require.Equal(t, c.want, got)
		})
	}
}

// One more look never makes more time late.
func TestALookNeverMakesMoreTimeLate(t *testing.T) {
	late := func(s signal.TimeInWater) (sum time.Duration) {
		for _, g := range signal.Gaps(s) {
			sum += g.To.Sub(g.From)
		}
		return sum
	}
	rapid.Check(t, func(t *rapid.T) {
		out := at(30)
		s := signal.TimeInWater{In: began, Out: &out,
			Every: time.Duration(rapid.IntRange(1, 600).Draw(t, "every")) * time.Second}
		for i := range rapid.IntRange(0, 20).Draw(t, "looks") {
			s.Looks = append(s.Looks, seen(fmt.Sprint(i), rapid.Float64Range(0, 30).Draw(t, "at"), bar(100)))
		}
		before := late(s)
		s.Looks = append(s.Looks, seen("more", rapid.Float64Range(0, 30).Draw(t, "more"), bar(100)))
		require.LessOrEqual(t, late(s), before)
	})
}

func TestWhenTheNextLookIsDue(t *testing.T) {
	out := at(10)
	due := func(s signal.TimeInWater) string {
		s.In = began
		if d := signal.NextCheckDue(s); d != nil {
			return d.Sub(began).String()
		}
		return "nothing"
	}
	two := 2 * time.Minute
	require.Equal(t, "2m0s", due(signal.TimeInWater{Every: two}), "from the time in")
	require.Equal(t, "7m0s",
		due(signal.TimeInWater{Every: two,
			Looks: []signal.SeenCheck{seen("b", 5, bar(100)), seen("a", 3, bar(120))}}))
	require.Equal(t, "nothing", due(signal.TimeInWater{Every: two, Out: &out}))
	require.Equal(t, "nothing", due(signal.TimeInWater{}), "nothing was agreed")
}

func ExampleWatch() {
	read := units.Read(118, units.UnitBar)
	turn := units.Read(120, units.UnitBar)
	for _, r := range signal.Watch(signal.DiveWatch{Marks: signal.Marks{Turn: &turn},
		Looks: []signal.SeenCheck{{ID: "1", At: began, Reading: &read}}, Now: began.Add(time.Minute)}) {
		fmt.Println(r.Findings[0].Message)
		fmt.Println(r.Expected[0].What, "is", r.Expected[0].State, "for", r.Expected[0].After)
	}
	// Output:
	// 118 bar was read, at or below the turn pressure of 120 bar. The group turns.
	// turned is pending for 1m0s
}

// agreedOf draws what was agreed, each pressure or none.
func agreedOf(t *rapid.T) signal.Agreed {
	some := func(name string) *units.Reading {
		if !rapid.Bool().Draw(t, "has "+name) {
			return nil
		}
		if rapid.Bool().Draw(t, name+" in psi") {
			return psi(float64(rapid.IntRange(1, 3000).Draw(t, name)))
		}
		return bar(float64(rapid.IntRange(1, 200).Draw(t, name)))
	}
	return signal.Agreed{Plan: signal.Marks{Turn: some("turn planned"), LowGas: some("low planned")},
		Briefing: signal.Marks{Turn: some("turn told"),
			LowGas: some("low told")}, Floor: *bar(float64(rapid.IntRange(1, 100).Draw(t, "floor")))}
}

func TestTheGreatestOfPlanBriefingAndFloorAlwaysCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := agreedOf(t)
		m := a.Marks()
		if m.LowGas == nil {
			t.Fatal("everybody has a floor")
		}
		for _, x := range []*units.Reading{a.Plan.LowGas, a.Briefing.LowGas, &a.Floor} {
			if x != nil && x.Pressure() > m.LowGas.Pressure()+1e-6 {
				t.Fatalf("%s was agreed, and %s counts", x, m.LowGas)
			}
			look := signal.SeenCheck{Reading: x}
			if x != nil && len(signal.JudgeMarks(m, look)) == 0 {
				t.Fatalf("%s was agreed, and a reading of it is passed over", x)
			}
		}
	})
}

// Less gas never alarms less, and a pressure that was made up alarms nobody.
func TestTheAlarmOfAReadingIsMonotone(t *testing.T) {
	grave := func(m signal.Marks, l signal.SeenCheck) (worst int) {
		for _, f := range signal.JudgeMarks(m, l) {
			worst = max(worst, 1)
			if f.Rule == signal.RuleLowGasReached.ID {
				worst = 2
			}
		}
		return worst
	}
	rapid.Check(t, func(t *rapid.T) {
		m := agreedOf(t).Marks()
		high := rapid.IntRange(0, 250).Draw(t, "reading")
		low := rapid.IntRange(0, high).Draw(t, "lower reading")
		one, two := signal.SeenCheck{Reading: bar(float64(high))}, signal.SeenCheck{Reading: bar(float64(low))}
		if grave(m, two) < grave(m, one) {
			t.Fatalf("%d bar alarms less than %d bar", low, high)
		}
		two.Simulated = true
		if grave(m, two) != 0 {
			t.Fatal("a simulated reading alarms")
		}
		w := signal.DiveWatch{Marks: m,
			Looks: []signal.SeenCheck{{ID: "a", At: at(1), Reading: bar(float64(low)),
				Simulated: true}}, Now: at(2)}
		if len(signal.Watch(w)) != 0 {
			t.Fatal("a simulated reading is watched")
		}
	})
}

func TestAFindingSaysWhoSetThePressure(t *testing.T) {
	for _, c := range []struct {
		agreed signal.Agreed
		want   string
	}{
		{signal.Agreed{Plan: signal.Marks{LowGas: bar(60)}, Floor: *bar(50)},
			"40 bar was read, at or below the low-gas pressure of 60 bar."},
		{signal.Agreed{Plan: signal.Marks{LowGas: bar(60)}, Briefing: signal.Marks{LowGas: bar(70)},
			Floor: *bar(50)}, "40 bar was read, at or below the low-gas pressure of 70 bar told at the briefing."},
		{signal.Agreed{Plan: signal.Marks{LowGas: bar(45)}, Briefing: signal.Marks{LowGas: bar(40)},
			Floor: *bar(50)}, "40 bar was read, at or below 50 bar, the centre's floor for this water."},
		{signal.Agreed{Plan: signal.Marks{LowGas: bar(50)}, Floor: *bar(50)},
			"40 bar was read, at or below the low-gas pressure of 50 bar."},
		{signal.Agreed{Floor: *psi(700)},
			"40 bar was read, at or below 700 psi, the centre's floor for this water."},
	} {
		found := signal.JudgeMarks(c.agreed.Marks(), signal.SeenCheck{Reading: bar(40)})
		require.Len(t, found, 1)
		require.Contains(t, found[0].Message, c.want)
	}
}

// A made-up pressure is no look at the gas: the next one is due as before.
func TestASimulatedCheckIsNoLook(t *testing.T) {
	s := signal.TimeInWater{In: at(0), Every: 2 * time.Minute,
		Looks: []signal.SeenCheck{seen("a", 2, bar(180)),
			{ID: "b", At: at(3), Reading: bar(40), Simulated: true}}}
	require.Equal(t, at(4), *signal.NextCheckDue(s))
	out := at(4.5)
	s.Out = &out
	require.Len(t, signal.Gaps(s), 1)
}
