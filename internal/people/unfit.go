package people

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/ledger"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/roster"
)

// UnfitMark records that a member of the crew found a person unfit on a day.
type UnfitMark struct {
	ID         uuid.UUID
	PersonID   uuid.UUID
	OnDay      time.Time
	Note       *string
	MarkedBy   uuid.UUID
	MarkedAt   time.Time
	LiftedBy   *uuid.UUID
	LiftedAt   *time.Time
	LiftReason *string
	PersonName string
	Findings   finding.List `db:"-"`
}

const unfitColumns = `x.id, x.person_id, x.on_day, x.note, x.marked_by, x.marked_at, l.lifted_by,
	l.lifted_at, l.reason AS lift_reason, n.name AS person_name`

var marks = records[UnfitMark]{list: "listUnfitMarks", what: "mark", columns: unfitColumns,
	order: "x.on_day DESC, x.marked_at DESC, x.id",
	from: ` FROM unfit_mark x
		JOIN person n ON n.centre_id = x.centre_id AND n.id = x.person_id
		LEFT JOIN unfit_lift l ON l.centre_id = x.centre_id AND l.mark_id = x.id `,
	seen: func(m *UnfitMark, _ roster.Day) uuid.UUID { m.Findings = m.judge(); return m.PersonID }}

// judge returns the finding that a marked person stays out of the water that day.
func (m UnfitMark) judge() finding.List {
	if m.LiftedAt != nil {
		return nil
	}
	return roster.Fit(roster.Person{ID: m.PersonID.String(), Name: m.PersonName, Unfit: true},
		roster.Day(m.OnDay.Format(time.DateOnly)))
}

// MarkUnfit marks a person unfit on a day: a fact that any member of the crew may
// report, with at most a note and never a diagnosis.
func (s *Service) MarkUnfit(ctx context.Context, by actor.Actor, key once.Key, person uuid.UUID, day time.Time,
	note *string) (out UnfitMark, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := lockPerson(ctx, tx, person, nil); err != nil {
			return err
		}
		digest, again, err := pg.OptionalRow[[]byte](ctx, tx, `SELECT body_digest
			FROM unfit_mark WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": key.ID})
		switch {
		case err != nil:
			return err
		case again:
			err = key.Replays(digest)
		default:
			err = insertUnfitMark(ctx, by, tx, key, person, day, note)
		}
		if err != nil {
			return err
		}
		created = !again
		out, err = marks.find(ctx, tx, key.ID)
		return err
	})
	return out, created, err
}

func insertUnfitMark(ctx context.Context, by actor.Actor, tx *pg.Tx, key once.Key, person uuid.UUID,
	day time.Time, note *string) error {
	if _, err := tx.Do(ctx, `INSERT INTO unfit_mark (centre_id, id, person_id, on_day, note, marked_by,
		marked_at, body_digest)
		VALUES (app_centre(), @id, @person, @day, @note, @by, @now, @digest)`,
		pgx.StrictNamedArgs{"id": key.ID, "person": person, "day": day, "note": note, "by": by.Person,
			"now": tx.Now, "digest": key.Digest}); err != nil {
		return err
	}
	salt := ledger.NewSalt()
	return ledger.Append(ctx, by, tx, ledger.Entry{Subject: ledger.Subject{Type: "person", ID: person},
		Kind: ledger.Unfit, Ref: key.ID, Salt: salt,
		Body: struct {
			OnDay    string       `json:"on_day"`
			MarkedBy uuid.UUID    `json:"marked_by"`
			Note     *ledger.Hash `json:"note"`
		}{day.Format(time.DateOnly), by.Person, salt.TextOrNull(note)}})
}

// UnfitMarks returns the marks of a person, the newest first, lifted ones included.
func (s *Service) UnfitMarks(ctx context.Context, by actor.Actor, person uuid.UUID) ([]UnfitMark, error) {
	return marks.of(ctx, by, s, person)
}

// LiftUnfit lifts a mark with a reason. It is for the instructor in charge of the
// person's group that day, or of their sessions without a group. Where nobody else
// has charge of the person, any instructor other than the person lifts it. Lifting it
// again changes nothing.
func (s *Service) LiftUnfit(ctx context.Context, by actor.Actor, id uuid.UUID, reason string) (out UnfitMark,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		m, err := marks.find(ctx, tx, id)
		if err != nil {
			return err
		}
		if m.PersonID == by.Person {
			return fault.MissingRole("another instructor: nobody declares themselves fit again")
		}
		if err := hasCharge(ctx, tx, m, by.Person); err != nil {
			return err
		}
		if _, err := lockPerson(ctx, tx, m.PersonID, nil); err != nil {
			return err
		}
		n, err := tx.Do(ctx, `INSERT INTO unfit_lift (centre_id, mark_id, reason, lifted_by, lifted_at)
			VALUES (app_centre(), @id, @reason, @by, @now)
			ON CONFLICT (centre_id, mark_id) DO NOTHING`,
			pgx.StrictNamedArgs{"id": id, "reason": reason, "by": by.Person, "now": tx.Now})
		if err == nil && n == 1 {
			salt := ledger.NewSalt()
			err = ledger.Append(ctx, by, tx,
				ledger.Entry{Subject: ledger.Subject{Type: "person", ID: m.PersonID},
					Kind: ledger.UnfitLifted, Ref: id, Salt: salt,
					Body: reasonBody{Reason: salt.Text(reason), LiftedBy: &by.Person}})
		}
		if err != nil {
			return err
		}
		out, err = marks.find(ctx, tx, id)
		return err
	})
	return out, err
}

// hasCharge lets a mark be lifted by the instructors in charge of the person on its
// day; where there are none, by any.
func hasCharge(ctx context.Context, tx *pg.Tx, m UnfitMark, who uuid.UUID) error {
	inCharge, err := pg.Rows[struct {
		ID   uuid.UUID
		Name string
	}](ctx, tx, `SELECT DISTINCT n.id, n.name FROM sessions_participant p
		JOIN sessions_session s ON s.centre_id = p.centre_id AND s.id = p.session_id
		JOIN sessions_participant c ON c.centre_id = p.centre_id AND c.session_id = p.session_id
			AND c.role = 'in_charge'
			AND (p.group_id IS NULL OR c.group_id = p.group_id) AND c.person_id <> p.person_id
		JOIN person n ON n.centre_id = c.centre_id AND n.id = c.person_id
		WHERE p.centre_id = app_centre() AND p.person_id = @person AND s.on_day = @day
			AND s.state IN ('planned', 'under_way')
		ORDER BY n.name, n.id`, pgx.StrictNamedArgs{"person": m.PersonID, "day": m.OnDay})
	if err != nil || len(inCharge) == 0 {
		return err
	}
	names := make([]string, len(inCharge))
	for i, c := range inCharge {
		if names[i] = c.Name; c.ID == who {
			return nil
		}
	}
	return fault.MissingRole("the instructor in charge of " + m.PersonName + " on " +
		m.OnDay.Format(time.DateOnly) + ": " + strings.Join(names, ", "))
}
