package journal

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
)

// Trusted is how far the clock of a device may seem to be off and is taken as it
// is. Our choice: so much is as likely the way of the message as the clock.
const Trusted = 10 * time.Second

// Correct returns what has to be added to the times of a device whose clock read
// sent when ours, on receiving, read received: in whole seconds, nothing where
// the two are within Trusted.
func Correct(sent, received time.Time) time.Duration {
	off := received.Sub(sent)
	if off.Abs() <= Trusted {
		return 0
	}
	return off.Round(time.Second)
}

// Ticks is a reading of a monotonic clock: milliseconds since some moment that
// only the device knows. Nobody sets such a clock; a new one has a new ID.
type Ticks struct {
	Clock uuid.UUID
	MS    int64 // 0 to MostTicks
}

// MostTicks is the greatest reading of a monotonic clock in milliseconds, the
// greatest whole number that every JSON reader keeps exactly (RFC 8259, 6).
const MostTicks = 1<<53 - 1

// Doubt is why the time of an entry may be wrong.
type Doubt string

// The doubts about a time.
const (
	TicksLost   Doubt = "ticks_lost"   // its monotonic clock had ended before the entry was sent
	TicksDiffer Doubt = "ticks_differ" // that clock and the device's own disagree by more than Trusted
)

// Sending is the moment at which a device sent something.
type Sending struct {
	At       time.Time           // by the device's clock
	Received time.Time           // by ours
	Clocks   map[uuid.UUID]int64 // its living monotonic clocks, in milliseconds
}

// Timing is how the time of an entry is found that a device kept. Its JSON is
// that of a row of entry_clock.
type Timing struct {
	Device          string     `json:"device"`
	CorrectionS     int64      `json:"correction_s"`      // added to its times, in seconds
	ClockID         *uuid.UUID `json:"clock_id"`          // the monotonic clock; nil: none
	TicksMS         *int64     `json:"ticks_ms"`          // of that clock at the entry
	ElapsedMS       *int64     `json:"elapsed_ms"`        // from the entry to sending; nil: none, or lost
	WallCorrectionS *int64     `json:"wall_correction_s"` // by the device's clock alone; nil: no monotonic clock
	Doubt           *Doubt     `json:"doubt"`
}

// Correction returns what is added to the device's times.
func (t Timing) Correction() time.Duration { return time.Duration(t.CorrectionS) * time.Second }

// ByWall returns the time that the device's clock alone would give an entry
// witnessed at that corrected time, nil where the two are the same.
func (t Timing) ByWall(witnessed time.Time) *time.Time {
	if t.WallCorrectionS == nil || *t.WallCorrectionS == t.CorrectionS {
		return nil
	}
	at := witnessed.Add(time.Duration(*t.WallCorrectionS-t.CorrectionS) * time.Second)
	return &at
}

// TimingOf returns how the time of an entry is found that its device witnessed
// at the given time by its clock, and ticks by its monotonic one. The ticks that
// passed until the entry was sent decide, since nobody sets them. Without ticks,
// or where their clock has ended, the device's clock does, corrected by what it
// was off on sending.
func TimingOf(device string, at time.Time, ticks *Ticks, s Sending) Timing {
	wall := int64(Correct(s.At, s.Received) / time.Second)
	out := Timing{Device: device, CorrectionS: wall}
	if ticks == nil {
		return out
	}
	out.ClockID, out.TicksMS, out.WallCorrectionS = &ticks.Clock, &ticks.MS, &wall
	now, living := s.Clocks[ticks.Clock]
	if !living || now < ticks.MS {
		out.Doubt = new(TicksLost)
		return out
	}
	out.ElapsedMS = new(now - ticks.MS)
	// More than fits a Duration, 292 years, is no time that passed.
	if *out.ElapsedMS > int64(1<<63-1)/int64(time.Millisecond) {
		out.ElapsedMS, out.Doubt = nil, new(TicksLost)
		return out
	}
	elapsed := time.Duration(*out.ElapsedMS) * time.Millisecond
	out.CorrectionS = int64(Correct(at.Add(elapsed), s.Received) / time.Second)
	if (s.At.Sub(at) - elapsed).Abs() > Trusted {
		out.Doubt = new(TicksDiffer)
	}
	return out
}

// The rules about the clock of a device.
var (
	ruleTicksLost = finding.Rule{ID: "journal.ticks_lost", Severity: finding.Note,
		Title: "A time that only the device's clock gives",
		Text: "An entry that was kept without coverage may carry a reading of a timer that nobody can set. When that timer had ended " +
			"before the entry was sent, as after a restart, the time is what the device's clock showed, and may be wrong.",
		Source: "our choice"}
	ruleTicksDiffer = finding.Rule{ID: "journal.ticks_differ", Severity: finding.Note,
		Title: "The device's clock and its timer disagree",
		Text: "An entry that was kept without coverage may carry a reading of a timer that nobody can set. Where the timer and the device's " +
			"clock advanced differently by more than 10 seconds before it was sent, the clock was set, or the device slept while its " +
			"timer stood still. The timer counts, and both times are kept.",
		Source: "our choice"}
)

// Rules lists the rules of this package, for people to read.
func Rules() []finding.Rule { return []finding.Rule{ruleTicksLost, ruleTicksDiffer} }

// Findings returns what is to be said of the time of an entry.
func (t Timing) Findings(entry uuid.UUID, witnessed time.Time) finding.List {
	if t.Doubt == nil {
		return nil
	}
	about := finding.Subject{Type: "entry", ID: entry.String()}
	if *t.Doubt == TicksLost {
		return finding.List{ruleTicksLost.Say("The device's timer had ended before this was sent. " +
			"The time is what the device's clock showed, and may be wrong.").About(about)}
	}
	at := t.ByWall(witnessed)
	if at == nil {
		return finding.List{ruleTicksDiffer.Say("The device's clock and its timer advanced differently by more than 10 seconds. " +
			"Both put this at the same time within 10 seconds.").About(about)}
	}
	apart, than := witnessed.Sub(*at), "later"
	if apart < 0 {
		apart, than = -apart, "earlier"
	}
	f := ruleTicksDiffer.Say("The device's clock was set, or the device slept: its timer puts this {apart} {than} than its "+
		"clock does. The timer counts.", finding.Span(apart), than).About(about).
		With("by_timer_at", finding.Clock(witnessed, nil)).With("by_clock_at", finding.Clock(*at, nil))
	return finding.List{f}
}

type timingKey struct{}

// FromDevice marks the entries of these ids, when they are recorded under the
// context, as kept by a device: how its time was found stands beside each entry.
// The times of the entries are corrected by the caller.
func FromDevice(ctx context.Context, kept map[uuid.UUID]Timing) context.Context {
	return context.WithValue(ctx, timingKey{}, kept)
}

func timingsFrom(ctx context.Context) map[uuid.UUID]Timing {
	kept, _ := ctx.Value(timingKey{}).(map[uuid.UUID]Timing)
	return kept
}

// queueTimings adds what is known of the clocks of entries to a batch.
func queueTimings(ctx context.Context, b *pgx.Batch, ids []uuid.UUID) error {
	type row struct {
		EntryID uuid.UUID `json:"entry_id"`
		Timing
	}
	kept := timingsFrom(ctx)
	var rows []row
	for _, id := range ids {
		if t, ok := kept[id]; ok {
			rows = append(rows, row{EntryID: id, Timing: t})
		}
	}
	if len(rows) == 0 {
		return nil
	}
	text, err := json.Marshal(rows)
	if err != nil {
		return fmt.Errorf("record clocks of entries: %w", err)
	}
	b.Queue(`INSERT INTO entry_clock (centre_id, entry_id, device, correction_s, clock_id, ticks_ms, elapsed_ms, wall_correction_s, doubt)
		SELECT app_centre(), x.entry_id, x.device, x.correction_s, x.clock_id, x.ticks_ms, x.elapsed_ms,
			x.wall_correction_s, x.doubt
		FROM jsonb_to_recordset(@rows::jsonb) AS x (entry_id uuid, device text, correction_s bigint,
			clock_id uuid, ticks_ms bigint,
			elapsed_ms bigint, wall_correction_s bigint, doubt text)`, pgx.StrictNamedArgs{"rows": string(text)})
	return nil
}
