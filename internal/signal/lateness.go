package signal

import (
	"cmp"
	"slices"
	"time"

	"tankside/internal/finding"
)

// TimeInWater is one diver's time in the water on one dive, as it was recorded.
type TimeInWater struct {
	InID, OutID string
	In          time.Time
	Out         *time.Time  // nil while the dive lasts, or where no time out was recorded
	Looks       []SeenCheck // in any order; those outside the stay do not count
	Every       time.Duration
}

// Gap is a time in the water longer than the agreed interval without a check of the diver's gas.
type Gap struct {
	FromID, ToID string // entries: the time in, a check, the time out
	From, To     time.Time
	Findings     finding.List
}

// Gaps returns the times for which the agreed interval was exceeded: from the time in to the first
// check, from check to check, and from the last one to the time out. Pass only a complete log: a
// check that was not logged is not a lapse. Without an agreed interval there are no gaps.
func Gaps(s TimeInWater) (out []Gap) {
	if s.Every <= 0 {
		return nil
	}
	at, id := s.In, s.InID
	next := func(to time.Time, toID string) {
		if to.Sub(at) > s.Every {
			out = append(out, Gap{FromID: id, ToID: toID, From: at, To: to,
				Findings: finding.List{gapFinding(to.Sub(at), s.Every)}})
		}
		at, id = to, toID
	}
	for _, l := range s.during() {
		next(l.At, l.ID)
	}
	if s.Out != nil {
		next(*s.Out, s.OutID)
	}
	return out
}

// NextCheckDue returns when the next check is due, nil where none is: no interval was agreed, or the diver
// is out of the water.
func NextCheckDue(s TimeInWater) *time.Time {
	if s.Every <= 0 || s.Out != nil {
		return nil
	}
	last := s.In
	if looks := s.during(); len(looks) > 0 {
		last = looks[len(looks)-1].At
	}
	due := last.Add(s.Every)
	return &due
}

// during returns the checks within the stay in the order of their times. Simulated ones are left
// out, since their pressure is invented.
func (s TimeInWater) during() []SeenCheck {
	looks := slices.DeleteFunc(slices.Clone(s.Looks), func(l SeenCheck) bool {
		return l.Simulated || l.At.Before(s.In) || s.Out != nil && l.At.After(*s.Out)
	})
	slices.SortFunc(looks, func(a,
		b SeenCheck) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID))
	})
	return looks
}

func gapFinding(took, every time.Duration) finding.Finding {
	limit, found := finding.Span(every), finding.Span(took)
	f := RuleCheckGap.Say("No look at the gas was logged for {gap}; every {every} was agreed.", found, limit)
	f.Limit, f.Found = limit.Amount(), found.Amount()
	f.Cures = []finding.Cure{{Code: "log_check",
		Message: "Log the check with its own time if there was one; the log is not complete then."}}
	return f
}
