package journal

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// Void adds the void of an entry by the calling person, and keeps it in the
// ledger, in the chain of what the entry is of. Voiding again is answered as
// done. What depended on the entry is for the caller to flag.
func Void(ctx context.Context, by actor.Actor, tx *pg.Tx, e Head, reason string) error {
	if by.IsProgram() {
		return fault.MissingRole("a person; a program cannot void what a person witnessed")
	}
	added, err := tx.Do(ctx,
		`INSERT INTO entry_void (centre_id, entry_id, reason, voided_by, token_id, voided_at)
		VALUES (app_centre(), @id, @reason, @by, @token, @now) ON CONFLICT (centre_id, entry_id) DO NOTHING`,
		pgx.StrictNamedArgs{"id": e.ID, "reason": reason, "by": by.Person, "token": by.Token, "now": tx.Now})
	if err != nil || added == 0 {
		return err
	}
	salt := ledger.NewSalt()
	return ledger.Append(ctx, by, tx,
		ledger.Entry{Subject: e.chain(), Kind: ledger.EntryVoid, Ref: e.ID, Salt: salt,
			Body: voided{Entry: e.Kind, WitnessedBy: e.WitnessedBy, Reason: salt.Text(reason)}})
}

// chain returns the subject in whose chain the void of an entry stands: the session
// in which it was witnessed, or else the outing, the enrolment or the entry itself.
func (h Head) chain() ledger.Subject {
	for _, of := range []struct {
		name string
		id   *uuid.UUID
	}{{"session", h.SessionID}, {"outing", h.OutingID}, {"enrolment", h.EnrolmentID}} {
		if of.id != nil {
			return ledger.Subject{Type: of.name, ID: *of.id}
		}
	}
	return ledger.Subject{Type: "entry", ID: h.ID}
}

// voided is what the ledger keeps of a void: of the reason only the hash.
type voided struct {
	Entry       Kind        `json:"entry"`
	WitnessedBy uuid.UUID   `json:"witnessed_by"`
	Reason      ledger.Hash `json:"reason"`
}

// voids are the voids of a centre as the ledger has them.
const voids = `SELECT v.entry_id AS ref, COALESCE(e.session_id, e.outing_id, e.enrolment_id, e.id) AS subject,
		v.voided_at AS at, v.voided_by AS person, v.token_id AS token, e.kind AS entry, e.witnessed_by, v.reason
	FROM entry_void v
	JOIN entry e ON e.centre_id = v.centre_id AND e.id = v.entry_id
	WHERE v.centre_id = @centre`
