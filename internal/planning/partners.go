package planning

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
)

// PartnerAway is found of whoever is to dive by a plan that rests on somebody who
// does not.
var PartnerAway = finding.Rule{ID: "planning.partner_away", Severity: finding.Caution,
	Title:  "Whom a plan has somebody share gas with is there",
	Text:   "The low-gas pressure of a plan is worked out for two: a diver and the partner who shares the gas on the way up. Where the confirmed plan rests on a partner who is absent, left early, sits out, is marked as not fit or does not dive, it is pointed out at roll call, at the opening and in the gas watch, until somebody plans anew.",
	Source: "gas for two divers to the surface: common practice; that it is a caution is our choice"}

// resting is somebody who is to dive, and the partner on whom the plan rests.
type resting struct {
	ParticipantID uuid.UUID
	Name          string
	PartnerID     uuid.UUID
	PartnerName   string
	Attendance    string // of the partner
	Counted       bool
	Unfit         bool
	NotDiving     bool
}

// restingSQL reads, of the sessions @sessions, who is to dive by a plan of record
// and with whom that has them share gas.
const restingSQL = `SELECT DISTINCT v.participant_id, n.name, q.id AS partner_id, w.name AS partner_name, q.attendance, q.counted,
		EXISTS (SELECT FROM people_unfit u WHERE u.centre_id = q.centre_id AND u.person_id = q.person_id AND u.on_day = s.on_day) AS unfit,
		EXISTS (SELECT FROM sessions_not_diving d WHERE d.centre_id = q.centre_id AND d.participant_id = q.id) AS not_diving
	FROM planning_pressure v
	JOIN gas_plan g ON g.centre_id = v.centre_id AND g.id = v.plan_id
	CROSS JOIN LATERAL jsonb_array_elements(g.result->'people') AS one (person)
	CROSS JOIN LATERAL jsonb_array_elements(g.result->'people') AS other (person)
	JOIN sessions_session s ON s.centre_id = v.centre_id AND s.id = v.session_id
	JOIN sessions_participant p ON p.centre_id = v.centre_id AND p.id = v.participant_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	JOIN sessions_participant q ON q.centre_id = v.centre_id AND q.id = (other.person->>'participant_id')::uuid
	JOIN people_person w ON w.centre_id = q.centre_id AND w.id = q.person_id
	WHERE v.centre_id = app_centre() AND v.session_id = ANY (@sessions)
		AND one.person->>'participant_id' = v.participant_id::text AND other.person->>'key' = one.person->>'shares_with'
		AND p.counted AND NOT EXISTS (SELECT FROM sessions_not_diving d WHERE d.centre_id = p.centre_id AND d.participant_id = p.id)
	ORDER BY n.name, v.participant_id, w.name`

// PartnersAway finds, by participant, who of some sessions is to dive by a
// confirmed plan that rests on a partner who does not.
func (s *Service) PartnersAway(ctx context.Context, tx *pg.Tx, sessions ...uuid.UUID) (map[uuid.UUID]finding.List, error) {
	rows, err := pg.Many[resting](ctx, tx, restingSQL, pgx.StrictNamedArgs{"sessions": sessions})
	if err != nil {
		return nil, fmt.Errorf("read on whom plans rest: %w", err)
	}
	out := map[uuid.UUID]finding.List{}
	for _, r := range rows {
		if why := r.away(); why != "" {
			out[r.ParticipantID] = append(out[r.ParticipantID], r.finding(why))
		}
	}
	return out, nil
}

// away says why the partner is not there to share gas, "" where they are.
func (r resting) away() string {
	switch {
	case !r.Counted:
		return map[string]string{"absent": "is absent", "left_early": "left early", "sat_out": "sits out"}[r.Attendance]
	case r.Unfit:
		return "is marked as not fit"
	case r.NotDiving:
		return "does not dive"
	}
	return ""
}

func (r resting) finding(why string) finding.Finding {
	f := PartnerAway.Say("{partner} {why}, and the plan has {person} share gas with them. It still rests on that.", r.PartnerName, why, r.Name).
		About(participant(r.ParticipantID), participant(r.PartnerID))
	f.Cures = []finding.Cure{{Code: "replan", Message: "Give " + r.Name + " another partner: plan anew and confirm it."},
		{Code: "sit_out", Message: "Or let " + r.Name + " sit out."}}
	return f
}
