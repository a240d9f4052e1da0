package watercheck

import (
	"time"

	"tankside/internal/finding"
)

// surfaced is how long after the end of a session somebody is taken to be on the
// way out. Our choice: longer than any ascent, and shorter than another dive.
const surfaced = time.Hour

// surfacing returns the note that an entry about somebody who was in the water when
// the session ended is in order: nil where it is not of that kind.
func (st Snapshot) surfacing(p Participant, at time.Time) finding.List {
	s := st.Session
	if s.EndedAt == nil || !at.After(*s.EndedAt) || at.Sub(*s.EndedAt) > surfaced {
		return nil
	}
	for _, w := range st.stillIn {
		if w.ParticipantID != p.ID || w.OutAt != nil && at.After(*w.OutAt) {
			continue
		}
		f := AfterTheEnd.Say("{person} was still in the water when the session was {state}; this was {later} later. "+
			"It is recorded, and nothing else is to be done.", p.named(), s.State, finding.Span(at.Sub(*s.EndedAt))).About(p.subject())
		f.Found = finding.Words(string(s.State))
		return finding.List{f}
	}
	return nil
}
