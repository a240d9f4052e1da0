package offline_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/journal"
	"tankside/internal/offline"
	"tankside/internal/sessions"
	"tankside/internal/units"
)

// pocket is a phone as the world has it: what it shows, and what is true.
type pocket struct {
	*counter
	by    actor.Actor
	now   time.Time     // the true time
	skew  time.Duration // its clock reads the true time and this
	clock uuid.UUID     // its monotonic clock
	ticks time.Duration
	seen  []*sight
}

// sight is an entry as it was kept, and what is known of it.
type sight struct {
	offline.BatchEntry
	at      time.Time // the true time
	skew    time.Duration
	stopped time.Duration // how long its monotonic clock stood still since then
	first   *arrival      // that was taken
}

// arrival is how an entry came first.
type arrival struct {
	sent, received time.Time // the one by the phone's clock, the other by ours
	way            time.Duration
	living         bool
	elapsed        time.Duration
}

func (p *pocket) wall() time.Time { return p.now.Add(p.skew) }

func (p *pocket) wait(d time.Duration) { p.now, p.ticks = p.now.Add(d), p.ticks+d }

func (p *pocket) reboot() { p.clock, p.ticks = uuid.New(), 0 }

// doze lets time pass of which the monotonic clock knows nothing.
func (p *pocket) doze(d time.Duration) {
	p.now = p.now.Add(d)
	for _, s := range p.seen {
		if s.first == nil { // what has arrived is settled
			s.stopped += d
		}
	}
}

// witness keeps what is seen now.
func (p *pocket) witness(timed bool) {
	id := uuid.New()
	s := &sight{at: p.now, skew: p.skew}
	s.BatchEntry = offline.BatchEntry{EntryID: id, Kind: journal.Conditions, SessionID: &p.confined,
		Item: &sessions.Report{Key: key(id),
			SessionID: p.confined, Visibility: new(units.Read(4, units.UnitMetre)), WitnessedAt: p.wall()}}
	s.Body, _ = json.Marshal(s.Item)
	if timed {
		s.Ticks = &journal.Ticks{Clock: p.clock, MS: p.ticks.Milliseconds()}
	}
	p.seen = append(p.seen, s)
}

// send sends some entries, whichever were sent before.
func (p *pocket) send(t require.TestingT, some []*sight, way time.Duration) {
	if len(some) == 0 {
		return
	}
	b := offline.Batch{Device: "phone 7", SentAt: p.wall(),
		Clocks: map[uuid.UUID]int64{p.clock: p.ticks.Milliseconds()}}
	for _, s := range some {
		b.Entries = append(b.Entries, s.BatchEntry)
	}
	p.wait(way)
	p.Clock(p.now)
	out, err := p.offline.Send(p.Context(), p.by, b)
	require.NoError(t, err)
	for i, s := range some {
		if s.first != nil || out.Results[i].Status == journal.NotRecorded { // more than 5 minutes ahead; it is taken anew
			continue
		}
		require.Equal(t, journal.Recorded, out.Results[i].Status, "%v", out.Results[i].Refusal)
		s.first = &arrival{sent: b.SentAt, received: out.ReceivedAt,
			way: out.ReceivedAt.Sub(b.SentAt.Add(-p.skew))}
		if s.Ticks != nil && s.Ticks.Clock == p.clock {
			s.first.living, s.first.elapsed = true, time.Duration(b.Clocks[p.clock]-s.Ticks.MS)*time.Millisecond
		}
	}
}

// holds holds an entry against what is true.
func (p *pocket) holds(t require.TestingT, s *sight) {
	if s.first == nil {
		return
	}
	head, err := p.desk.Entry(p.Context(), p.by, s.EntryID)
	require.NoError(t, err)
	wall := s.at.Add(s.skew)
	byWall := wall.Add(journal.Correct(s.first.sent, s.first.received))
	require.WithinDuration(t, wall, *head.DeviceAt(), time.Millisecond, "the device's own time is kept")
	switch {
	case s.Ticks == nil: // as ever
		require.WithinDuration(t, byWall, head.WitnessedAt, time.Millisecond)
		require.Nil(t, head.Timing.Doubt)
		return
	case !s.first.living:
		require.WithinDuration(t, byWall, head.WitnessedAt, time.Millisecond)
		require.Equal(t, journal.TicksLost, *head.Timing.Doubt)
		require.Len(t, head.Findings, 1)
		return
	}
	// Within what is taken as it is, and the way of the message.
	require.InDelta(t, s.stopped.Seconds(), head.WitnessedAt.Sub(s.at).Seconds(),
		journal.Trusted.Seconds()+s.first.way.Seconds()+0.5)
	differs := (s.first.sent.Sub(wall) - s.first.elapsed).Abs() > journal.Trusted
	require.Equal(t, differs, head.Timing.Doubt != nil, "marked where the clocks advanced differently")
	if differs {
		require.Equal(t, journal.TicksDiffer, *head.Timing.Doubt)
		require.Len(t, head.Findings, 1)
		if other := head.Timing.ByWall(head.WitnessedAt); other != nil {
			require.WithinDuration(t, byWall, *other, time.Millisecond, "both are kept")
		}
	}
}

// Phones whose clocks are off and are set at any moment, right before sending
// too, that restart and doze, send what they kept in pieces, late and repeatedly.
// Wherever the monotonic clock of an entry still runs when it first arrives, the
// true time is found within 10 seconds and the way of the message; where it stood
// still meanwhile, the entry is marked and both times are kept; where it has
// ended, or there is none, the phone's clock counts.
func TestTheTrueTimeIsFoundByTicks(t *testing.T) {
	c := newCounter(t)
	who := c.As(c.Manager)
	who.Scopes = access.MostScopes(who.Roles)
	begin := time.Date(2026, 6, 6, 9, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		span := func(name string, most time.Duration) time.Duration {
			return time.Duration(rapid.Int64Range(0, most.Milliseconds()).Draw(t, name)) * time.Millisecond
		}
		skew := func() time.Duration {
			return time.Duration(rapid.OneOf(rapid.Just(int64(0)), rapid.Int64Range(-12, 12),
				rapid.Int64Range(-90*60, 90*60)).Draw(t, "skew")) * time.Second
		}
		p := &pocket{counter: c, by: who, now: begin, clock: uuid.New(), skew: skew(),
			ticks: span("booted", 100*time.Hour)}
		some := func() []*sight {
			out := slices.Clone(p.seen)
			return out[rapid.IntRange(0, len(out)).Draw(t, "from"):]
		}
		for range rapid.IntRange(2, 9).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"see", "see", "see", "wait", "set", "reboot", "doze",
				"send"}).Draw(t, "step") {
			case "see":
				p.witness(rapid.IntRange(0, 4).Draw(t, "timed") > 0)
			case "wait":
				p.wait(span("wait", 3*time.Hour))
			case "set":
				p.skew = skew()
			case "reboot":
				p.reboot()
			case "doze":
				p.doze(span("doze", 40*time.Minute))
			case "send":
				p.send(t, some(), span("way", 2*time.Second))
			}
		}
		p.wait(span("wait", time.Hour))
		p.skew = skew() // the phone sets itself as it comes back into coverage
		p.send(t, some(), span("way", 2*time.Second))
		p.send(t, p.seen, span("way", 2*time.Second))
		for _, s := range p.seen {
			p.holds(t, s)
		}
	})
}

// A phone that is 20 minutes slow sets itself right before it sends. Its own clock
// would put everything 20 minutes early.
func TestAPhoneSetRightBeforeSendingShiftsNothing(t *testing.T) {
	for _, ticks := range []bool{true, false} {
		t.Run(fmt.Sprintf("with ticks %v", ticks), func(t *testing.T) {
			c := newCounter(t)
			who := c.As(c.Manager)
			who.Scopes = access.MostScopes(who.Roles)
			p := &pocket{counter: c, by: who, now: time.Date(2026, 6, 6, 9, 0, 0, 0, time.UTC),
				clock: uuid.New(), skew: -20 * time.Minute}
			p.witness(ticks)
			p.wait(3 * time.Hour)
			p.skew = 0
			p.send(t, p.seen, 300*time.Millisecond)
			head, err := c.desk.Entry(t.Context(), p.by, p.seen[0].EntryID)
			require.NoError(t, err)
			if !ticks {
				require.WithinDuration(t, p.seen[0].at.Add(-20*time.Minute), head.WitnessedAt, time.Second,
					"as the contract says of an entry without a clock")
				return
			}
			require.WithinDuration(t, p.seen[0].at, head.WitnessedAt, 10*time.Second)
			require.Equal(t, "The device's clock was set, or the device slept: its timer puts this 20 min later than its clock does. The timer counts.",
				head.Findings[0].Message)
			require.WithinDuration(t, p.seen[0].at.Add(-20*time.Minute), *head.Timing.ByWall(head.WitnessedAt),
				time.Second)
		})
	}
}
