package watercheck

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ratio"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// morning is an open-water session from ten to twelve with two students who were briefed
// by nobody, as it was recorded; no database is asked.
func morning() (r recorded, one, two dayview.Participant) {
	ten := time.Date(2026, 6, 7, 10, 0, 0, 0, time.UTC)
	one = dayview.Participant{ID: uuid.New(), PersonID: uuid.New(), PersonName: "One", Role: dayview.Student,
		Attendance: dayview.Present, Counted: true}
	two = dayview.Participant{ID: uuid.New(), PersonID: uuid.New(), PersonName: "Two", Role: dayview.Student,
		GroupID:    new(uuid.New()),
		Attendance: dayview.Absent}
	v := dayview.View{Session: dayview.Session{ID: uuid.New(), Kind: ratio.Open, TimeZone: "UTC",
		State:    dayview.UnderWay,
		StartsAt: ten, EndsAt: ten.Add(2 * time.Hour), OnDay: ten.Truncate(24 * time.Hour),
		Dives: []dayview.Dive{{ID: uuid.New(), Number: 1}}},
		Participants: []dayview.Participant{one, two}}
	r.Snapshot = newSnapshot(v, facts{})
	return r, one, two
}

func rules(l finding.List) (out []string) {
	for _, f := range l {
		out = append(out, f.Rule)
	}
	slices.Sort(out)
	return out
}

// What is found of entries follows from the entries and the session alone: the rules are
// our choice (see their sources).
func TestEntriesAreJudgedBesideOneAnother(t *testing.T) {
	t.Parallel()
	r, one, two := morning()
	dive, at := r.View.Dives[0].ID, r.View.StartsAt.Add(10*time.Minute)
	rated, read := units.Read(200, units.UnitBar), units.Read(310, units.UnitBar)
	in := waterview.Dive{StartID: uuid.New(), DiveID: dive, ParticipantID: one.ID, InAt: at, Rating: &rated}
	r.Log = []waterview.Dive{in}
	entry := func(k journal.Kind, of uuid.UUID, minutes int) waterview.Entry {
		return waterview.Entry{ID: uuid.New(), Kind: k, ParticipantID: of,
			WitnessedAt: at.Add(time.Duration(minutes) * time.Minute)}
	}
	inOrder, absent := entry(journal.GasCheck, one.ID, 1), entry(journal.GasCheck, two.ID, 2)
	high, drill := entry(journal.GasCheck, one.ID, 3), entry(journal.GasCheck, one.ID, 4)
	high.Reading = &read
	drill.Reading, drill.Simulated = &read, true
	out, again := entry(journal.TimeOut, one.ID, 20), entry(journal.TimeOut, one.ID, 25)
	out.TimeInID, again.TimeInID = &in.StartID, &in.StartID
	nextDay := entry(journal.GasResponse, one.ID, 24*60)
	r.seen = []waterview.Entry{inOrder, absent, high, drill, out, again, nextDay}

	found := r.found()
	require.Empty(t, found[inOrder.ID])
	require.Equal(t, []string{NotThere.ID}, rules(found[absent.ID]))
	require.Equal(t, []string{AboveRating.ID}, rules(found[high.ID]), "310 bar are more than 1.5 times 200")
	require.Empty(t, found[drill.ID], "a pressure made up for a drill is no reading")
	require.Empty(t, found[out.ID])
	require.Equal(t, []string{OutAlready.ID}, rules(found[again.ID]))
	require.Equal(t, []string{OtherDay.ID}, rules(found[nextDay.ID]))
}

// A time in is judged beside those before it, in the order in which they were witnessed,
// and by what other features know.
func TestTimesInAreJudgedBesideOneAnother(t *testing.T) {
	t.Parallel()
	r, one, two := morning()
	dive, at := r.View.Dives[0].ID, r.View.StartsAt.Add(10*time.Minute)
	in := func(p dayview.Participant, minutes int) waterview.Dive {
		return waterview.Dive{StartID: uuid.New(), DiveID: dive, ParticipantID: p.ID, Team: new("blue"),
			InAt: at.Add(time.Duration(minutes) * time.Minute)}
	}
	first, other, twice := in(one, 0), in(two, 1), in(one, 2)
	r.Log = []waterview.Dive{first, other, twice}
	over := At{Cleared: new(false), Unready: finding.List{NotThere.Say("Papers are not in order.")}}

	found := r.foundOfTimesIn(nil, map[uuid.UUID]At{other.StartID: over})
	require.Equal(t, []string{NotBriefed.ID}, rules(found[first.StartID]))
	require.NotContains(t, rules(found[other.StartID]), InAlready.ID, "another person")
	require.Contains(t, rules(found[other.StartID]), GroupNotCleared.ID)
	require.Contains(t, rules(found[other.StartID]), NotThere.ID, "what other features know is passed on")
	require.Equal(t, []string{InAlready.ID, NotBriefed.ID}, rules(found[twice.StartID]))
}
