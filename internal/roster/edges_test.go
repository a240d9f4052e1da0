package roster_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/roster"
)

// Nobody is in two places at once; sessions that touch end to start do not clash, and a session does not clash with
// itself.
func TestOnePersonIsOnOneSessionAtATime(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	require.NoError(t, err)
	booking := func(id string, from, to int) roster.Booking {
		hour := func(h int) time.Time { return time.Date(2026, 6, 6, h, 0, 0, 0, lisbon) }
		return roster.Booking{Session: id, Title: id, Span: roster.Span{From: hour(from), To: hour(to)},
			Zone: lisbon}
	}
	ines := roster.Person{ID: "1", Name: "Ines"}
	booked := []roster.Booking{booking("pool", 9, 11), booking("quay", 13, 15), booking("cove", 14, 16)}
	require.Empty(t, roster.Clashes(ines, booking("new", 11, 13), booked))
	require.Empty(t, roster.Clashes(ines, booking("pool", 10, 12), booked), "the same session, moved")

	found := roster.Clashes(ines, booking("new", 10, 14), booked)
	require.Len(t, found, 2)
	for i, want := range []string{"pool", "quay"} {
		require.Equal(t, roster.DoubleBooked.ID, found[i].Rule)
		require.Equal(t, []finding.Subject{{Type: "person", ID: "1"}, {Type: "session", ID: want}},
			found[i].Subjects)
		require.Contains(t, found[i].Message, `already on "`+want+`"`)
	}
}

// A pool may be held wherever the water is confined, open water needs open water, and theory needs none (common practice).
func TestTheWaterOfASiteSuitsTheSession(t *testing.T) {
	for _, session := range []string{"theory", "confined", "open"} {
		for _, site := range []string{"confined", "open"} {
			found := roster.Site(session, site, finding.Subject{Type: "session", ID: "s"})
			require.Equal(t, session == "theory" || session == site, len(found) == 0, "%s at %s", session, site)
		}
	}
}

// Confined water before open water, and only confined water: training organisations' manuals (seen).
func TestEachOpenSessionNeedsAPoolBefore(t *testing.T) {
	at := func(id, kind string, h int) roster.Appointment {
		from := time.Date(2026, 6, 6, h, 0, 0, 0, time.UTC)
		return roster.Appointment{ID: id, Title: id, Kind: kind,
			Span: roster.Span{From: from, To: from.Add(time.Hour)}}
	}
	first, later := at("first", "open", 12), at("later", "open", 14)
	theory, moved := at("theory", "theory", 8), at("pool", "confined", 16)
	found := roster.Order(moved, []roster.Appointment{theory, first, later})
	require.Len(t, found.Of(roster.OutOfOrder), 2, "neither theory nor an earlier dive is a pool")
	require.Empty(t, roster.Order(moved, []roster.Appointment{at("other pool", "confined", 9), first, later}))
}

// Both ends of a paper's validity count (common practice), and what was issued today counts today.
func TestWhatWasIssuedTodayCountsToday(t *testing.T) {
	const today = roster.Day("2026-06-06")
	p := roster.Person{ID: "1", Name: "Ines", Age: 30, Papers: []roster.Paper{
		paper(roster.TeachingStatus, "valid", today, ""), paper(roster.FirstAid, "valid", today, today),
		paper(roster.Medical, roster.NothingFlagged, today, ""), paper(roster.Waiver, "valid", today, "")}}
	require.Empty(t, roster.Crew(demands, p, today))
	require.Empty(t, roster.Water(demands, p, today, roster.Opening))
	require.Len(t, roster.Crew(demands, p, "2026-06-05"), 2)
	require.True(t, roster.Water(demands, p, "2026-06-05", roster.Opening).Forbids())
}

// Papers come in the order in which they were recorded: of two of one day the later one counts.
func TestOfTwoMedicalsOfOneDayTheLaterRecordedCounts(t *testing.T) {
	flag, approval := paper(roster.Medical, roster.PhysicianNeeded, "2026-06-01", ""), paper(roster.Medical,
		roster.PhysicianApproved, "2026-06-01", "")
	waiver := paper(roster.Waiver, "valid", "2026-01-01", "")
	for _, c := range []struct {
		papers []roster.Paper
		forbid bool
	}{{[]roster.Paper{waiver, flag, approval}, false}, {[]roster.Paper{waiver, approval, flag}, true}} {
		l := roster.Water(demands, roster.Person{ID: "1", Name: "Fay", Age: 30, Papers: c.papers}, "2026-06-06",
			roster.Opening)
		require.Equal(t, c.forbid, l.Forbids())
	}
}

func TestAMedicalThatIsMissingIsNotOneThatIsOld(t *testing.T) {
	say := func(papers ...roster.Paper) string {
		l := roster.Water(demands, roster.Person{ID: "1", Name: "Fay", Age: 30, Papers: papers}, "2026-06-06",
			roster.Opening)
		found := l.Of(roster.MedicalMissing)
		require.Len(t, found, 1)
		return found[0].Message
	}
	require.Equal(t, "Fay has no medical outcome on record that counts on 2026-06-06.", say())
	require.Equal(t, "The medical outcome of Fay is from 2025-06-05 and no longer counts on 2026-06-06.",
		say(paper(roster.Medical, roster.NothingFlagged, "2025-06-05", "")))
}

// alarm returns the message of the alarm as it stands at a moment.
func alarm(t *testing.T, h roster.Heads, at int) string {
	t.Helper()
	stand, ok := h.Latest(minute(at))
	require.True(t, ok)
	require.Equal(t, roster.Alarm, stand.State)
	return stand.Findings[0].Message
}

// An alarm says what was counted, what was expected and who is in the water, and nothing else.
func TestAnAlarmSaysWhatDoesNotFit(t *testing.T) {
	once := counted(boat(), "ines", departure, 3, 0)
	require.Equal(t, "Head counts do not agree before departure: 3 counted, 4 on the list. Nobody leaves; count again.", alarm(t, once, 1))
	require.Equal(t, "Head counts do not agree before departure: 3 counted, 4 on the list. Nobody leaves; count again.",
		alarm(t, counted(once, "abel", departure, 3, 1), 1), "two who found the same")
	require.Equal(t, "Head counts do not agree before departure: 3 and 5 counted, 4 on the list. Nobody leaves; count again.",
		alarm(t, counted(counted(boat(), "ines", departure, 5, 0), "abel", departure, 3, 1), 1))

	h := boat()
	require.Equal(t, "Head counts do not agree after dive 1: 3 counted, 4 on the list. Nobody leaves; count again.",
		alarm(t, counted(h, "ines", after, 3, 15), 15), "nobody in the water")
	h.Swims = []roster.TimeInWater{{Who: roster.Member + "sofia", Dive: 1, In: minute(10)}}
	require.Equal(t, "Head counts do not agree after dive 1: 4 counted, 3 expected: 4 on the list, and in the water sofia. Nobody leaves; count again.",
		alarm(t, counted(h, "ines", after, 4, 15), 15))
	require.Equal(t, "Head counts do not agree before the return: 4 counted, 4 on the list. Nobody leaves; count again. No time out is logged of sofia.",
		alarm(t, counted(h, "ines", back, 4, 15), 15))
}

// Who is in the water after a dive need not be named.
func TestWhoIsInTheWaterIsNotLookedForAboard(t *testing.T) {
	h := boat()
	h.Swims = []roster.TimeInWater{{Who: roster.Member + "sofia", Dive: 1, In: minute(10)}}
	h = counted(counted(h, "ines", after, 3, 15), "ines", after, 3, 16)
	h.Counts[1].Named = []roster.Named{{Who: roster.Member + "ines"}, {Who: roster.Member + "abel"},
		{Who: roster.Guest + "bento"}}
	require.Equal(t, roster.EverybodyNamed, stateOf(h, after))
	h.Counts[1].Named = h.Counts[1].Named[:2]
	require.Equal(t, roster.Alarm, stateOf(h, after))
}

func TestALegIsShownForEachDiveThatWasCounted(t *testing.T) {
	legs := func(h roster.Heads) (out []roster.Leg) {
		for _, s := range h.Legs(minute(59)) {
			out = append(out, s.Leg)
		}
		return out
	}
	require.Equal(t, []roster.Leg{departure, {Phase: roster.AfterDive}, back}, legs(boat()))
	second := roster.Leg{Phase: roster.AfterDive, Dive: 2}
	h := counted(counted(boat(), "ines", second, 4, 40), "ines", after, 4, 20)
	require.Equal(t, []roster.Leg{departure, after, second, back}, legs(h))
}

// One own count needs a second person; a figure that somebody else entered is nobody's own, and needs two.
func TestWhoHasStillToCountIsSaid(t *testing.T) {
	h := counted(boat(), "ines", departure, 4, 0)
	say := func(h roster.Heads) finding.Finding {
		stand, _ := h.Latest(minute(0))
		require.Equal(t, roster.CountedOne, stand.State)
		return stand.Findings[0]
	}
	require.Equal(t, "One person counted 4 before departure, as expected; a second person has to count too.",
		say(h).Message)
	require.Equal(t, finding.Count(1, "people"), say(h).Found)
	h.Counts = slices.Clone(h.Counts)
	h.Counts[0].Entered = "abel"
	require.Equal(t, "4 counted before departure, as expected, and another person entered it; two people have to count and enter their own figures.", say(h).Message)
	require.Equal(t, finding.Count(0, "people"), say(h).Found)
}
