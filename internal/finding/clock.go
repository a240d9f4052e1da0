package finding

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Moment is an instant as a message names it: by the clock of a place. Its text is for people. The
// parameters of a message keep it as an instant in UTC.
type Moment struct {
	At    time.Time
	Zone  *time.Location // of the place; nil: not known, and the text is in UTC and has " (UTC)"
	Dated bool           // with the day
	wall  bool
}

// Clock returns the moment as its time of day in a zone.
func Clock(at time.Time, zone *time.Location) Moment { return Moment{At: at, Zone: zone} }

// DayAndClock returns the moment as its day and time of day in a zone.
func DayAndClock(at time.Time, zone *time.Location) Moment {
	return Moment{At: at, Zone: zone, Dated: true}
}

// Wall returns a time read off a wall clock whose zone is not known. Its text is "2026-06-06
// 18:05"; the parameters of a message keep it as the contract writes local times.
func Wall(t time.Time) Moment { return Moment{At: t, wall: true} }

// String returns the moment by the clock of its place: "18:05", and with the day "6 June 2026
// 18:05".
func (m Moment) String() string {
	layout := "15:04"
	if m.wall {
		return m.At.Format("2006-01-02 15:04")
	}
	if m.Dated {
		layout = "2 January 2006 15:04"
	}
	if m.Zone == nil {
		return m.At.UTC().Format(layout) + " (UTC)"
	}
	return m.At.In(m.Zone).Format(layout)
}

// Instant returns the moment as RFC 3339 in UTC, as the parameters of a message keep it. Of a
// wall-clock time it returns the time without a zone.
func (m Moment) Instant() string {
	if m.wall {
		return m.At.Format("2006-01-02T15:04")
	}
	return m.At.UTC().Format(time.RFC3339)
}

// Lasting returns a duration in words: "45 s", "20 min", "3 h 20 min", "31 days 12 h". It is
// rounded to the smaller unit shown, and has no sign.
func Lasting(d time.Duration) string {
	d = d.Abs()
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", d.Round(time.Second)/time.Second)
	case d < 10*time.Minute-500*time.Millisecond:
		s := d.Round(time.Second) / time.Second
		return parts(int64(s/60), "min", int64(s%60), "s")
	case d < time.Hour-30*time.Second:
		return fmt.Sprintf("%d min", d.Round(time.Minute)/time.Minute)
	case d < 24*time.Hour-30*time.Second:
		m := d.Round(time.Minute) / time.Minute
		return parts(int64(m/60), "h", int64(m%60), "min")
	}
	h := int64(d.Round(time.Hour) / time.Hour)
	unit := "days"
	if h/24 == 1 {
		unit = "day"
	}
	return parts(h/24, unit, h%24, "h")
}

func parts(n int64, unit string, rest int64, smaller string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d %s", n, unit)
	if rest > 0 {
		fmt.Fprintf(&b, " %d %s", rest, smaller)
	}
	return b.String()
}

// Sentence returns a text as a sentence, with a capital at the start and a full stop at the end.
func Sentence(s string) string {
	s = strings.TrimSpace(s)
	if first, size := utf8.DecodeRuneInString(s); unicode.IsLower(first) {
		s = string(unicode.ToUpper(first)) + s[size:]
	}
	if s != "" && !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
