package roster_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/roster"
)

// minute gives a moment of the outing.
func minute(n int) time.Time { return time.Date(2026, 6, 6, 9, n, 0, 0, time.UTC) }

// boat is an outing of a crew of two, a student and the skipper, who is a guest.
func boat() roster.Heads {
	h := roster.Heads{Outing: finding.Subject{Type: "outing", ID: "o"}}
	for _, n := range []string{"ines", "abel", "sofia"} {
		h.People = append(h.People, roster.ListedPerson{Who: roster.Member + n, Name: n})
	}
	h.People = append(h.People, roster.ListedPerson{Who: roster.Guest + "bento", Name: "bento"})
	return h
}

// counted adds somebody's own count.
func counted(h roster.Heads, by string, leg roster.Leg, figure, at int) roster.Heads {
	h.Counts = append(slices.Clone(h.Counts),
		roster.Count{ID: fmt.Sprint(len(h.Counts)), By: by, Entered: by, Leg: leg, Figure: figure,
			At: minute(at)})
	return h
}

func stateOf(h roster.Heads, leg roster.Leg) roster.CountState {
	for _, s := range h.Legs(minute(59)) {
		if s.Leg == leg {
			return s.State
		}
	}
	return roster.NotCounted
}

var (
	departure = roster.Leg{Phase: roster.Departure}
	back      = roster.Leg{Phase: roster.Return}
	after     = roster.Leg{Phase: roster.AfterDive, Dive: 1}
)

// Queensland 2011: a head count before departure by two people, compared and
// written down (seen).
func TestTwoPeopleCountWithTheirOwnTokens(t *testing.T) {
	h := counted(boat(), "ines", departure, 4, 0)
	require.Equal(t, roster.CountedOne, stateOf(h, departure))
	require.NotEmpty(t, h.NotSettled(minute(0)), "one figure alone")
	for _, for_ := range []string{"ines", ""} { // entered by the same person, and by a program
		other := h
		other.Counts = append(slices.Clone(h.Counts),
			roster.Count{ID: "x", By: "abel", Entered: for_, Leg: departure, Figure: 4, At: minute(1)})
		require.Equal(t, roster.CountedOne, stateOf(other, departure), "entered by %q", for_)
	}
	agreed := counted(h, "abel", departure, 4, 1)
	require.Equal(t, roster.Agreed, stateOf(agreed, departure))
	require.Empty(t, agreed.NotSettled(minute(1)))
	later := counted(agreed, "abel", departure, 3, 2)
	require.Equal(t, roster.Alarm, stateOf(later, departure))
	require.Equal(t, roster.Agreed, stateOf(counted(later, "rui", departure, 4, 3), departure),
		"a third settles two who differ")
	wrong := agreed
	wrong.Counts = append(slices.Clone(agreed.Counts),
		roster.Count{ID: "x", By: "abel", Leg: departure, Figure: 3, At: minute(2)})
	require.Equal(t, roster.Alarm, stateOf(wrong, departure),
		"a figure that a program enters is heard when it does not fit")
}

// Who is logged in the water is not expected aboard after a dive, each count at
// its own moment; before departure and return that is an alarm. (Our choice.)
func TestEachCountIsHeldAgainstItsOwnMoment(t *testing.T) {
	h := boat()
	out := minute(20)
	h.Swims = []roster.TimeInWater{{Who: roster.Member + "sofia", Dive: 1, In: minute(10), Out: &out}}
	h = counted(counted(h, "ines", after, 3, 15), "abel", after, 4, 25)
	require.Equal(t, roster.Agreed, stateOf(h, after),
		"three while Sofia is in the water, four when she is back")
	for _, leg := range []roster.Leg{departure, back} {
		f := counted(h, "ines", leg, 4, 15).NotSettled(minute(15))
		require.Contains(t, f[0].Message, "No time out is logged of sofia.")
		require.Equal(t, roster.Agreed,
			stateOf(counted(counted(h, "ines", leg, 4, 30), "abel", leg, 4, 31), leg))
	}
	h.Swims[0].Out = nil
	require.Equal(t, roster.Alarm, stateOf(h, after), "four were counted, and she is still in the water")
	stand, _ := h.Latest(minute(59))
	require.Equal(t, []int{4, 3}, []int{stand.OnList, stand.Expected})
	require.Equal(t, "sofia", stand.InWater[0].Name)
}

// A figure that names no dive is not taken for one of a dive before.
func TestACountAfterADiveThatNamesNoneBelongsToTheLatest(t *testing.T) {
	h := boat()
	outs := []time.Time{minute(20), minute(40)}
	h.Swims = []roster.TimeInWater{{Who: roster.Member + "sofia", Dive: 1, In: minute(10), Out: &outs[0]},
		{Who: roster.Member + "sofia", Dive: 2, In: minute(30), Out: &outs[1]}}
	unnamed := roster.Leg{Phase: roster.AfterDive}
	h = counted(counted(h, "ines", unnamed, 4, 21), "abel", unnamed, 4, 22)
	require.Equal(t, roster.Agreed, stateOf(h, after))
	h = counted(h, "ines", unnamed, 4, 41)
	require.Equal(t, roster.CountedOne, stateOf(h, roster.Leg{Phase: roster.AfterDive, Dive: 2}))
	require.Equal(t, roster.Agreed, stateOf(h, after))
	require.Empty(t, h.NotSettled(minute(40)))
	require.NotEmpty(t, h.NotSettled(minute(41)))
}

func TestWhoIsNotAboardIsSaid(t *testing.T) {
	h := boat()
	h.People[2].Said = []roster.RollCallEntry{{At: minute(5), Aboard: false}, {At: minute(50), Aboard: true}}
	for at, list := range map[int]int{4: 4, 5: 3, 49: 3, 50: 4} {
		require.Len(t, h.List(minute(at)), list, "at %d", at)
	}
	from, until := minute(10), minute(20)
	h.People[0].From, h.People[3].Until = &from, &until
	for at, list := range map[int]int{4: 3, 9: 2, 10: 3, 19: 3, 20: 2} {
		require.Len(t, h.List(minute(at)), list, "at %d", at)
	}
}

// One of the crew alone counts twice, the second time by name.
func TestEverybodyIsNamed(t *testing.T) {
	h := counted(boat(), "ines", departure, 3, 0)
	require.Equal(t, roster.Alarm, stateOf(h, departure))
	all := []roster.Named{{Who: roster.Member + "ines"}, {Who: roster.Member + "abel"},
		{Who: roster.Member + "sofia", Elsewhere: true}, {Who: roster.Guest + "bento"}}
	name := func(h roster.Heads, figure, at int, named ...roster.Named) roster.Heads {
		h = counted(h, "ines", departure, figure, at)
		h.Counts[len(h.Counts)-1].Named = named
		return h
	}
	require.Equal(t, roster.EverybodyNamed, stateOf(name(h, 3, 1, all...), departure))
	require.Equal(t, roster.CountedOne, stateOf(name(boat(), 3, 1, all...), departure), "nobody counted before")
	for why, bad := range map[string]roster.Heads{
		"Not named: bento.":         name(h, 3, 1, all[:3]...),
		"names 3 aboard and says 4": name(h, 4, 1, all...),
		"A person is named who is not on the list": name(h, 4, 1,
			append(slices.Clone(all), roster.Named{Who: roster.Guest + "ines"})...),
	} {
		stand, _ := bad.Latest(minute(1))
		require.Equal(t, roster.Alarm, stand.State, why)
		require.Contains(t, stand.Findings[0].Message, why)
	}
	require.Equal(t, roster.Alarm, stateOf(counted(name(h, 3, 1, all...), "abel", departure, 3, 2), departure),
		"a later figure does not fit")
}

// A leg that nobody counted stops nothing, and is a caution where guests or
// several sessions are aboard.
func TestALegThatNobodyCountedIsPointedOut(t *testing.T) {
	h := boat()
	require.Contains(t, h.Opening(minute(59), false)[0].Message, "before departure")
	alone := h
	alone.People = h.People[:3]
	require.Empty(t, alone.Opening(minute(59), false))
	require.NotEmpty(t, alone.Opening(minute(59), true).Of(roster.HeadsNotCounted))
	h = counted(counted(h, "ines", departure, 4, 0), "abel", departure, 4, 1)
	require.Empty(t, h.Opening(minute(59), true))
	out := minute(20)
	h.Swims = []roster.TimeInWater{{Who: roster.Member + "sofia", Dive: 1, In: minute(10), Out: &out}}
	require.Contains(t, h.Opening(minute(59), true).Of(roster.HeadsNotCounted)[0].Message, "after dive 1")
}

// anyHeads draws an outing with what is known of it.
func anyHeads(t *rapid.T) roster.Heads {
	h := roster.Heads{Outing: finding.Subject{Type: "outing", ID: "o"}}
	moment := rapid.IntRange(0, 30)
	for i := range rapid.IntRange(1, 4).Draw(t, "people") {
		a := roster.ListedPerson{Who: roster.Member + fmt.Sprint(i), Name: fmt.Sprint(i)}
		for _, at := range slices.Sorted(slices.Values(rapid.SliceOfN(moment, 0, 2).Draw(t, "said"))) {
			a.Said = append(a.Said, roster.RollCallEntry{At: minute(at),
				Aboard: rapid.Bool().Draw(t, "aboard")})
		}
		h.People = append(h.People, a)
		if rapid.Bool().Draw(t, "dives") {
			s := roster.TimeInWater{Who: a.Who, Dive: rapid.IntRange(1, 2).Draw(t, "dive"),
				In: minute(moment.Draw(t, "in"))}
			if rapid.Bool().Draw(t, "came out") {
				out := s.In.Add(time.Duration(rapid.IntRange(0, 15).Draw(t, "minutes")) * time.Minute)
				s.Out = &out
			}
			h.Swims = append(h.Swims, s)
		}
	}
	for i := range rapid.IntRange(0, 6).Draw(t, "counts") {
		by := fmt.Sprint(rapid.IntRange(1, 3).Draw(t, "by"))
		c := roster.Count{ID: fmt.Sprint(i), By: by,
			Entered: rapid.SampledFrom([]string{by, by, "1", ""}).Draw(t, "entered"),
			Leg: rapid.SampledFrom([]roster.Leg{departure, after, {Phase: roster.AfterDive}, back}).Draw(t,
				"leg"), At: minute(moment.Draw(t, "at"))}
		c.Figure = max(0, h.Expected(c)+rapid.SampledFrom([]int{0, 0, 0, 1, -1}).Draw(t, "off"))
		if rapid.IntRange(0, 3).Draw(t, "by name") == 0 {
			c.Figure = 0
			for _, a := range h.People {
				if n := (roster.Named{Who: a.Who,
					Elsewhere: rapid.IntRange(0, 3).Draw(t,
						"elsewhere") == 0}); rapid.IntRange(0, 5).Draw(t, "left out") > 0 {
					c.Named = append(c.Named, n)
					if !n.Elsewhere {
						c.Figure++
					}
				}
			}
		}
		h.Counts = append(h.Counts, c)
	}
	return h
}

// naiveFits works out anew whether a count finds everybody, question by question.
func naiveFits(h roster.Heads, c roster.Count) (fits, byName bool) {
	expected, list := map[string]bool{}, map[string]bool{}
	missingOut := false
	for _, a := range h.People {
		aboard := true
		for _, s := range a.Said {
			if s.At.Before(c.At) || s.At.Equal(c.At) {
				aboard = s.Aboard
			}
		}
		swims := false
		for _, s := range h.Swims {
			if s.Who == a.Who && !c.At.Before(s.In) && (s.Out == nil || c.At.Before(*s.Out)) {
				swims = true
			}
		}
		if !aboard {
			continue
		}
		list[a.Who] = true
		if c.Leg.Phase == roster.AfterDive && swims {
			continue
		}
		expected[a.Who], missingOut = true, missingOut || swims
	}
	if missingOut {
		return false, false
	}
	if len(c.Named) == 0 {
		return c.Figure == len(expected), false
	}
	seen := 0
	for _, n := range c.Named {
		if !list[n.Who] {
			return false, false
		}
		delete(expected, n.Who)
		if !n.Elsewhere {
			seen++
		}
	}
	whole := len(expected) == 0 && seen == c.Figure
	return whole, whole
}

// naiveState says anew how a leg stands: its counts sorted as they were made.
func naiveState(h roster.Heads, counts []roster.Count) roster.CountState {
	if len(counts) == 0 {
		return roster.NotCounted
	}
	last := counts[len(counts)-1]
	lastFits, lastNames := naiveFits(h, last)
	if !lastFits {
		return roster.Alarm
	}
	own := map[string]roster.Count{} // each person's latest
	var latestOwn roster.Count
	for _, c := range counts {
		if c.By == c.Entered {
			own[c.By], latestOwn = c, c
		}
	}
	good := 0
	for _, c := range own {
		if fits, _ := naiveFits(h, c); fits {
			good++
		}
	}
	latestOwnFits, _ := naiveFits(h, latestOwn)
	switch {
	case good >= 2 && latestOwnFits:
		return roster.Agreed
	case last.By == last.Entered && lastNames && len(counts) > 1:
		return roster.EverybodyNamed
	case len(own) == 0, len(own) == 1 && good == 1:
		return roster.CountedOne
	}
	return roster.Alarm
}

// The rule of heads, held against itself worked out anew; and in whichever order
// things are told, the same stands.
func TestHeadsStandAsEachMomentSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := anyHeads(t)
		sorted := slices.SortedFunc(slices.Values(h.Counts), func(a, b roster.Count) int {
			if x := a.At.Compare(b.At); x != 0 {
				return x
			}
			return slices.Compare([]byte(a.ID), []byte(b.ID))
		})
		for _, s := range h.Legs(minute(59)) {
			var of []roster.Count
			for _, c := range sorted {
				if h.LegOf(c) == s.Leg {
					of = append(of, c)
				}
			}
			require.Equal(t, naiveState(h, of), s.State, "%s", s.Leg)
			require.Equal(t, s.State == roster.Alarm, s.Findings.Forbids())
		}
		at := rapid.IntRange(0, 59).Draw(t, "asked at")
		var by []roster.Count
		for _, c := range sorted {
			if !c.At.After(minute(at)) {
				by = append(by, c)
			}
		}
		open := false
		if len(by) > 0 {
			leg := h.LegOf(by[len(by)-1])
			by = slices.DeleteFunc(slices.Clone(by), func(c roster.Count) bool { return h.LegOf(c) != leg })
			open = !slices.Contains([]roster.CountState{roster.Agreed, roster.EverybodyNamed},
				naiveState(h, by))
		}
		require.Equal(t, open, h.NotSettled(minute(at)).Forbids())
		mixed := h
		mixed.Counts, mixed.Swims = slices.Clone(h.Counts), slices.Clone(h.Swims)
		r := rand.New(rand.NewPCG(1, uint64(at)))
		r.Shuffle(len(mixed.Counts),
			func(i, j int) { mixed.Counts[i], mixed.Counts[j] = mixed.Counts[j], mixed.Counts[i] })
		r.Shuffle(len(mixed.Swims),
			func(i, j int) { mixed.Swims[i], mixed.Swims[j] = mixed.Swims[j], mixed.Swims[i] })
		require.Equal(t, h.Legs(minute(59)), mixed.Legs(minute(59)))
	})
}
