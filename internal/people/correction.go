package people

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/ledger"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// The members that identify a person. Every signature was made for a person of
// that name and birth date.
const (
	correctedName  = "name"
	correctedBirth = "birth_on"
)

// Correction is a corrected name or birth date, with the old value.
type Correction struct {
	ID            uuid.UUID
	PersonID      uuid.UUID
	Member        string // name or birth_on
	Before        string // a date is written like 1994-03-21
	After         string
	Reason        string
	CorrectedBy   uuid.UUID
	CorrectedAt   time.Time
	CorrectedName string // the name of the person who corrected it
}

// corrections returns the differences between two states of the identifying
// members, without who corrected them and when.
func corrections(before, after PersonFields) []Correction {
	var out []Correction
	if before.Name != after.Name {
		out = append(out, Correction{Member: correctedName, Before: before.Name, After: after.Name})
	}
	if !before.BirthOn.Equal(after.BirthOn) {
		out = append(out, Correction{Member: correctedBirth, Before: before.BirthOn.Format(time.DateOnly),
			After: after.BirthOn.Format(time.DateOnly)})
	}
	return out
}

// checkCorrections lets a manager or an instructor correct a name or a birth date with a
// reason. Nobody corrects their own birth date: it decides who needs consent, the
// depth limit and the ratio.
func checkCorrections(by actor.Actor, person uuid.UUID, list []Correction, reason string) error {
	for _, c := range list {
		at, said := "/"+c.Member, map[string]string{correctedName: "name",
			correctedBirth: "birth date"}[c.Member]
		if err := by.RequireRole("a manager or an instructor: a program does not change the "+said+
			" of a person", actor.Manager, actor.Instructor); err != nil {
			return err
		}
		if c.Member == correctedBirth && by.Person == person {
			return fault.MissingRole("another manager or instructor: nobody changes their own birth date")
		}
		if reason == "" {
			return fault.Invalid("/reason", "The {what} would change ({pointer}). Say why in reason: the old one is "+
				"kept with it.", said, at)
		}
	}
	return nil
}

// correctionBody is the ledger's record of a correction: the member, and the values
// and the reason as hashes.
type correctionBody struct {
	Member string      `json:"member"`
	Before ledger.Hash `json:"before"`
	After  ledger.Hash `json:"after"`
	Reason ledger.Hash `json:"reason"`
}

// keepCorrections records corrections of a locked person, and their ledger entries.
func keepCorrections(ctx context.Context, by actor.Actor, tx *pg.Tx, person uuid.UUID, list []Correction,
	reason string) error {
	entries := make([]ledger.Entry, len(list))
	for i, c := range list {
		id, salt := uuid.Must(uuid.NewV7()), ledger.NewSalt()
		if _, err := tx.Do(ctx, `
			INSERT INTO person_correction (centre_id, id, person_id, member, before, after, reason,
			corrected_by, corrected_at)
			VALUES (app_centre(), @id, @person, @member, @before, @after, @reason, @by, @now)`,
			pgx.StrictNamedArgs{"id": id, "person": person, "member": c.Member, "before": c.Before,
				"after":  c.After,
				"reason": reason, "by": by.Person, "now": tx.Now}); err != nil {
			return err
		}
		entries[i] = ledger.Entry{Subject: ledger.Subject{Type: "person", ID: person},
			Kind: ledger.IdentityCorrected, Ref: id, Salt: salt,
			Body: correctionBody{Member: c.Member, Before: salt.Text(c.Before), After: salt.Text(c.After),
				Reason: salt.Text(reason)}}
	}
	return ledger.AppendAll(ctx, by, tx, entries)
}

// Corrections returns the corrections of a person's name and birth date, the newest
// first, for staff and for the person.
func (s *Service) Corrections(ctx context.Context, by actor.Actor, person uuid.UUID) (out []Correction,
	err error) {
	if !permission.Covers("listCorrections", by, person) {
		return nil, fault.NoSuch("person")
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findPerson(ctx, tx, person); err != nil {
			return err
		}
		out, err = pg.Rows[Correction](ctx, tx, `
			SELECT id, person_id, member, before, after, reason, corrected_by, corrected_at, corrected_name
			FROM people_correction
			WHERE centre_id = app_centre() AND person_id = @person
			ORDER BY corrected_at DESC, id DESC`, pgx.StrictNamedArgs{"person": person})
		return err
	})
	return out, err
}
