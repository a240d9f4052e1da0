package sessions

import (
	"context"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
)

// naming returns, in words, which records of a session name a participant: what was
// witnessed of them or by them, voided entries too; heads of the outing that they
// counted, or among which they were named; incidents that concern them; sign-offs of them or by them. Briefings
// name persons before the session, whoever then takes part, and are none of these.
func naming(ctx context.Context, tx *pg.Tx, p Participant) ([]string, error) {
	return pg.Rows[string](ctx, tx,
		`WITH s AS (SELECT id, outing_id FROM session WHERE centre_id = app_centre() AND id = @session)
		SELECT replace(e.kind, '_', ' ') AS record FROM journal_entry e WHERE e.centre_id = app_centre()
			AND e.participant_id = @part
		UNION SELECT replace(e.kind, '_', ' ') FROM s JOIN journal_entry e ON e.centre_id = app_centre()
			AND e.session_id = s.id
			WHERE e.participant_id IS NULL AND e.enrolment_id = @enrolment
		UNION SELECT replace(e.kind, '_', ' ') || ' as its witness' FROM s
			JOIN journal_entry e ON e.centre_id = app_centre() AND e.session_id = s.id
			WHERE e.witnessed_by = @person AND e.kind NOT IN ('briefing', 'acknowledgement')
		UNION SELECT replace(e.kind, '_', ' ') || ' as its witness' FROM s
			JOIN journal_entry e ON e.centre_id = app_centre() AND e.outing_id = s.outing_id
			WHERE e.session_id IS NULL AND e.witnessed_by = @person
		UNION SELECT 'incident' FROM s JOIN journal_entry e ON e.centre_id = app_centre() AND e.session_id = s.id
			JOIN incident_person i ON i.centre_id = e.centre_id AND i.incident_id = e.id WHERE i.person_id = @person
		UNION SELECT 'incident' FROM s JOIN journal_entry e ON e.centre_id = app_centre() AND e.outing_id = s.outing_id
			JOIN incident_person i ON i.centre_id = e.centre_id AND i.incident_id = e.id
				WHERE e.session_id IS NULL AND i.person_id = @person
		UNION SELECT 'head count' FROM s JOIN journal_entry e ON e.centre_id = app_centre()
			AND e.outing_id = s.outing_id
			JOIN head_count_name w ON w.centre_id = e.centre_id AND w.head_count_id = e.id
				WHERE e.session_id IS NULL AND w.person_id = @person
		UNION SELECT CASE WHEN x.signed_by = @person THEN 'sign-off as its signer' ELSE 'sign-off' END
			FROM assessment_signed x
			WHERE x.centre_id = app_centre() AND x.session_id = @session
				AND (x.signed_by = @person OR x.enrolment_id = @enrolment)
		ORDER BY record`,
		pgx.StrictNamedArgs{"part": p.ID, "session": p.SessionID, "person": p.PersonID,
			"enrolment": p.EnrolmentID})
}

// deleteParticipant takes somebody off a session whom no record of it names: who
// was seen there, saw something or signed stays a part of it.
func deleteParticipant(ctx context.Context, tx *pg.Tx, p Participant) error {
	records, err := takeOff(ctx, tx, p)
	if err == nil && len(records) > 0 {
		err = fault.WrongState("participant", "named by records of the session ("+strings.Join(records, ", ")+
			")",
			"A person whom a record names stays a part of it: record by roll call that the person was absent, sat out or left early instead.")
	}
	return err
}

// unplaceFrom takes an enrolment off a planned session. Whoever a record of the
// session names keeps a part, which is in no group, books nobody and counts as
// absent, and a finding says so; it is placed anew like anybody (see adopt).
func unplaceFrom(ctx context.Context, tx *pg.Tx, session Session, enrolment uuid.UUID) (finding.List, error) {
	p, found, err := pg.OptionalRow[Participant](ctx, tx, `
		SELECT `+dayview.ParticipantColumns+` FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id = @session AND p.enrolment_id = @enrolment`,
		pgx.StrictNamedArgs{"session": session.ID, "enrolment": enrolment})
	if err != nil || !found {
		return nil, err
	}
	records, err := takeOff(ctx, tx, p)
	if err != nil || len(records) == 0 {
		return nil, err
	}
	_, err = tx.Do(ctx, `
		UPDATE participant
		SET group_id = NULL, attendance = 'absent', attendance_at = NULL, booked = false, placed = false,
			version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND id = @id AND (booked OR attendance <> 'absent' OR group_id IS NOT NULL)`, pgx.StrictNamedArgs{"id": p.ID, "now": tx.Now})
	f := TakenOffNamed.Say(`{person} is taken off "{session}", and stays in its list as absent: records name the person ({records}).`,
		finding.Person(p.PersonID, p.PersonName), finding.Session(session.ID.String(), session.Title),
		strings.Join(records, ", ")).
		About(finding.Subject{Type: "participant", ID: p.ID.String()},
			finding.Subject{Type: "person", ID: p.PersonID.String()},
			finding.Subject{Type: "session", ID: session.ID.String()})
	f.Cures = []finding.Cure{{Code: "call_roll",
		Message: "If the person is there all the same, call the roll again."}}
	return finding.List{f}, err
}

// off reports whether a part is that of somebody who was taken off the session,
// or whom no roll call that stands has there: it may be placed anew.
func off(p Participant) bool { return !p.Booked && p.Attendance == Absent }

// adopt writes the place that a decision asks for to the part that somebody kept in a
// session (see off), and returns its id, and whether there was one.
func adopt(ctx context.Context, tx *pg.Tx, session Session, n NewParticipant) (id uuid.UUID, found bool,
	err error) {
	return pg.OptionalRow[uuid.UUID](ctx, tx, `
		UPDATE participant
		SET group_id = @group, enrolment_id = @enrolment, role = @role, gauge_unit = @gauge, attendance = 'expected',
			attendance_at = NULL, booked = true, placed = true, body_digest = @digest, version = version + 1, updated_at = @now
		WHERE centre_id = app_centre() AND session_id = @session AND person_id = @person AND NOT booked
			AND attendance = 'absent'
		RETURNING id`,
		pgx.StrictNamedArgs{"session": session.ID, "person": n.PersonID, "group": n.GroupID,
			"enrolment": n.EnrolmentID, "role": n.Role,
			"gauge": n.GaugeUnit, "digest": n.Key.Digest, "now": tx.Now})
}

// adoptedBefore returns the part that this very request placed anew before: it
// has another id than the one that was asked for.
func adoptedBefore(ctx context.Context, tx *pg.Tx, n NewParticipant) (Participant, bool, error) {
	return pg.OptionalRow[Participant](ctx, tx, `
		SELECT `+dayview.ParticipantColumns+` FROM participant p
		WHERE p.centre_id = app_centre() AND p.session_id = @session AND p.body_digest = @digest`,
		pgx.StrictNamedArgs{"session": n.SessionID, "digest": n.Key.Digest})
}

// takeOff takes somebody off a session, or returns the records that keep them in it.
func takeOff(ctx context.Context, tx *pg.Tx, p Participant) (records []string, err error) {
	if records, err = naming(ctx, tx, p); err != nil || len(records) > 0 {
		return records, err
	}
	_, err = tx.Do(ctx, `DELETE FROM participant WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": p.ID})
	return nil, err
}
