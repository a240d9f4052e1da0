package training

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
)

// TeamMateAway is found of whoever went in with somebody who does not dive any more,
// where no plan says whom they share gas with.
var TeamMateAway = finding.Rule{ID: "training.team_mate_away", Severity: finding.Caution,
	Title: "Whom somebody went in with is there",
	Text: "A diver who needs gas gets it from the buddy. Where no plan of record says whom somebody shares gas with, it is whom they went in " +
		"with: those of the same team on the person's last dive of the session. Where one of them is absent, left early, sits out, is marked as " +
		"not fit or does not dive, it is pointed out at roll call, at the opening and in the gas watch, until the person goes in with others, or " +
		"is out of the water and the session is over. A time in without the name of a team tells of no pair.",
	Source: "nobody dives without a buddy: common practice; that it is a caution is our choice"}

// mate is somebody who went in as one of a team, and one of that team who does not
// dive now.
type mate struct {
	ParticipantID uuid.UUID
	Name          string
	MateID        uuid.UUID
	MateName      string
	Team          string
	Number        int // of the dive
	Attendance    string
	Counted       bool
	Unfit         bool
}

// matesSQL reads, of the sessions @sessions, who of those there has a team mate on
// the person's last dive who is not to dive, and no plan of record of that dive.
const matesSQL = `SELECT DISTINCT p.id AS participant_id, n.name, q.id AS mate_id, w.name AS mate_name, own.team, v.number, q.attendance, q.counted, u.unfit
	FROM unnest(@sessions::uuid[]) ids (id)
	JOIN sessions_session s ON s.centre_id = app_centre() AND s.id = ids.id
	JOIN sessions_participant p ON p.centre_id = s.centre_id AND p.session_id = s.id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	CROSS JOIN LATERAL (
		SELECT b.id, b.dive_id, b.team
		FROM dive_start b
		JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
		WHERE b.centre_id = p.centre_id AND b.participant_id = p.id AND e.voided_at IS NULL
		ORDER BY e.witnessed_at DESC, b.id LIMIT 1) own
	JOIN sessions_dive v ON v.centre_id = p.centre_id AND v.id = own.dive_id
	JOIN dive_start o ON o.centre_id = p.centre_id AND o.dive_id = own.dive_id AND o.team = own.team AND o.participant_id <> p.id
	JOIN journal_entry oe ON oe.centre_id = o.centre_id AND oe.id = o.id AND oe.voided_at IS NULL
	JOIN sessions_participant q ON q.centre_id = o.centre_id AND q.id = o.participant_id
	JOIN people_person w ON w.centre_id = q.centre_id AND w.id = q.person_id
	CROSS JOIN LATERAL (SELECT
		EXISTS (SELECT FROM people_unfit f WHERE f.centre_id = q.centre_id AND f.person_id = q.person_id AND f.on_day = s.on_day) AS unfit,
		EXISTS (SELECT FROM sessions_not_diving d WHERE d.centre_id = q.centre_id AND d.participant_id = q.id) AS not_diving) u
	WHERE p.counted AND (NOT q.counted OR u.unfit OR u.not_diving)
		AND NOT EXISTS (SELECT FROM sessions_not_diving d WHERE d.centre_id = p.centre_id AND d.participant_id = p.id)
		AND NOT EXISTS (SELECT FROM planning_pressure g WHERE g.centre_id = p.centre_id AND g.session_id = p.session_id
			AND g.participant_id = p.id AND (g.dive_id IS NULL OR g.dive_id = own.dive_id))
		AND (s.ended_at IS NULL OR NOT EXISTS (
			SELECT FROM dive_end z
			JOIN journal_entry ze ON ze.centre_id = z.centre_id AND ze.id = z.id
			WHERE z.centre_id = p.centre_id AND z.dive_start_id = own.id AND ze.voided_at IS NULL))
	ORDER BY n.name, p.id, w.name`

// TeamMatesAway finds, by participant, who of some sessions has no plan of record
// and went in last as one of a team of which somebody does not dive now.
func (s *Service) TeamMatesAway(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) (map[uuid.UUID]finding.List, error) {
	rows, err := pg.Many[mate](ctx, tx, matesSQL, pgx.StrictNamedArgs{"sessions": sessions})
	if err != nil {
		return nil, fmt.Errorf("read whose team mates do not dive: %w", err)
	}
	out := map[uuid.UUID]finding.List{}
	for _, m := range rows {
		out[m.ParticipantID] = append(out[m.ParticipantID], m.finding())
	}
	return out, nil
}

// away returns why the team mate does not dive.
func (m mate) away() string {
	switch {
	case !m.Counted:
		return map[string]string{"absent": "is absent", "left_early": "left early", "sat_out": "sits out"}[m.Attendance]
	case m.Unfit:
		return "is marked as not fit"
	}
	return "does not dive"
}

func (m mate) finding() finding.Finding {
	f := TeamMateAway.Say(`{mate} {why}, and {person} went in with them as team "{team}" on dive {dive}.`, m.MateName, m.away(), m.Name, m.Team, m.Number).
		About(finding.Subject{Type: "participant", ID: m.ParticipantID.String()}, finding.Subject{Type: "participant", ID: m.MateID.String()})
	f.Cures = []finding.Cure{{Code: "new_buddy", Message: "Give " + m.Name + " a buddy who dives, or confirm a plan that says whom " + m.Name + " shares gas with."},
		{Code: "sit_out", Message: "Or let " + m.Name + " sit out."}}
	return f
}
