package training

import (
	"math"
	"time"

	"github.com/google/uuid"

	"tankside/internal/finding"
)

// stillIn is somebody who was in the water when a session ended, and when they
// came out, nil while it is not logged.
type stillIn struct {
	ParticipantID uuid.UUID
	OutAt         *time.Time
}

const stillInSQL = `
	SELECT b.participant_id, z.out_at
	FROM (
		SELECT s.ended_at
		FROM sessions_session s
		WHERE s.centre_id = app_centre() AND s.id BETWEEN @session AND @session
		ORDER BY s.id) s
	CROSS JOIN LATERAL (
		SELECT e.id
		FROM journal_entry e
		WHERE e.centre_id = app_centre()
			AND e.session_id BETWEEN @session AND @session
			AND e.kind = 'dive_start'
			AND e.voided_at IS NULL
			AND e.witnessed_at <= s.ended_at
		ORDER BY e.session_id) e
	CROSS JOIN LATERAL (
		SELECT b.centre_id, b.id, b.participant_id
		FROM dive_start b
		WHERE b.centre_id = app_centre() AND b.id BETWEEN e.id AND e.id
		ORDER BY b.id) b
	LEFT JOIN LATERAL (` + outOf + `) z ON true
	WHERE s.ended_at IS NOT NULL AND (z.out_at IS NULL OR z.out_at > s.ended_at)`

// surfaced is how long after the end of a session somebody is taken to be on the
// way out. Our choice: longer than any ascent, and shorter than another dive.
const surfaced = time.Hour

// surfacing returns the note that an entry about somebody who was in the water when
// the session ended is in order: nil where it is not of that kind.
func (st stage) surfacing(p part, at time.Time) finding.List {
	s := st.session
	if s.EndedAt == nil || !at.After(*s.EndedAt) || at.Sub(*s.EndedAt) > surfaced {
		return nil
	}
	for _, w := range st.stillIn {
		if w.ParticipantID != p.ID || w.OutAt != nil && at.After(*w.OutAt) {
			continue
		}
		minutes := int(math.Ceil(at.Sub(*s.EndedAt).Minutes()))
		f := AfterTheEnd.Say("{person} was still in the water when the session was {state}; this was {minutes} min later. It is recorded, and nothing else is to be done.",
			p.named(), s.State, minutes).About(p.subject())
		f.Found = finding.Words(string(s.State))
		return finding.List{f}
	}
	return nil
}
