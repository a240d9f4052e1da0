package journal

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/pg"
)

// Acceptance is a person's word that one caution is accepted, and why.
type Acceptance struct {
	Rule        string `json:"rule"`
	SubjectType string `json:"subject_type,omitempty"` // what SubjectID is the id of, as far as the record says
	SubjectID   string `json:"subject_id"`
	Reason      string `json:"reason"`

	// Who accepted it and when: those of the decision that it was made in, and stored with it.

	By     uuid.UUID `json:"-"`
	ByName string    `json:"-"`
	At     time.Time `json:"-"`

	SignOff *uuid.UUID `json:"-"` // that the decision was about; nil for other decisions
}

// Accepting returns acceptances as a person makes them in this transaction, under their name. It asks
// the database only where there are any.
func Accepting(ctx context.Context, tx *pg.Tx, person uuid.UUID, list []Acceptance) ([]Acceptance, error) {
	if len(list) == 0 {
		return nil, nil
	}
	name, _, err := pg.OptionalRow[string](ctx, tx,
		`SELECT name FROM people_person WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": person})
	return AcceptedBy(list, person, name, tx.Now), err
}

// AcceptedBy returns acceptances with who made them and when.
func AcceptedBy(list []Acceptance, person uuid.UUID, name string, at time.Time) []Acceptance {
	out := slices.Clone(list)
	for i := range out {
		out[i].By, out[i].ByName, out[i].At = person, name, at
	}
	return out
}

// MadeAt returns the acceptances of the decision that was made at that moment.
func MadeAt(list []Acceptance, at time.Time) (out []Acceptance) {
	for _, a := range list {
		if a.At.Equal(at) {
			out = append(out, a)
		}
	}
	return out
}

// ForSignOff returns the acceptances of the decision that made a sign-off. Several sign-offs of one
// enrolment may be decided at the same moment, each with acceptances of its own.
func ForSignOff(list []Acceptance, signOff uuid.UUID) (out []Acceptance) {
	for _, a := range list {
		if a.SignOff != nil && *a.SignOff == signOff {
			out = append(out, a)
		}
	}
	return out
}

const acceptedColumns = `a->>'rule' AS rule, coalesce(a->>'subject_type', '') AS subject_type,
		a->>'subject_id' AS subject_id, a->>'reason' AS reason,
		d.person_id AS "by", n.name AS by_name, d.decided_at AS at,
		(d.judged_on->'sign_off'->>'sign_off_id')::uuid AS sign_off`

// Accepted returns the cautions that were accepted before in decisions about a subject: the thing of
// that type with that id. The first acceptance comes first.
func Accepted(ctx context.Context, tx *pg.Tx, subjectType string, id uuid.UUID) ([]Acceptance, error) {
	all, err := AcceptedOf(ctx, tx, subjectType, []uuid.UUID{id})
	return all[id], err
}

// AcceptedOf returns, by subject, the cautions that were accepted before in decisions about subjects of
// one type.
func AcceptedOf(ctx context.Context, tx *pg.Tx, subjectType string,
	ids []uuid.UUID) (map[uuid.UUID][]Acceptance, error) {
	out := map[uuid.UUID][]Acceptance{}
	if len(ids) == 0 {
		return out, nil
	}
	rows, err := pg.Rows[struct {
		Subject uuid.UUID
		Acceptance
	}](ctx, tx, `SELECT d.subject_id AS subject, `+acceptedColumns+`
		FROM decision d
		CROSS JOIN LATERAL jsonb_array_elements(d.accepted) a
		JOIN people_person n ON n.centre_id = d.centre_id AND n.id = d.person_id
		WHERE d.centre_id = app_centre() AND d.subject_type = @type AND d.subject_id = ANY (@ids)
		ORDER BY d.decided_at, d.id`, pgx.StrictNamedArgs{"type": subjectType, "ids": ids})
	for _, r := range rows {
		out[r.Subject] = append(out[r.Subject], r.Acceptance)
	}
	return out, err
}

// WithAcceptances returns the findings of a decision that stands, each caution with who accepted it.
func WithAcceptances(found finding.List, accepted []Acceptance) finding.List {
	return marked(found, accepted, false)
}

// Pending returns the findings of a decision that is still to be made: each caution with who accepted it,
// or as one that needs an acceptance.
func Pending(found finding.List, accepted []Acceptance) finding.List {
	return marked(found, accepted, true)
}

func marked(found finding.List, accepted []Acceptance, pending bool) finding.List {
	out := slices.Clone(found)
	for i, f := range out {
		if f.Severity != finding.Caution {
			continue
		}
		at := slices.IndexFunc(accepted, func(a Acceptance) bool { return a.answers(f) })
		if at < 0 {
			out[i].NeedsAcceptance = pending
			continue
		}
		a := accepted[at]
		out[i].Accepted = &finding.Accepted{By: a.By.String(), ByName: a.ByName, At: a.At, Reason: a.Reason}
	}
	return out
}

// answers reports whether the acceptance is of this caution: it names its rule and the id of one of the
// subjects by which it can be accepted.
func (a Acceptance) answers(f finding.Finding) bool {
	return a.Rule == f.Rule && slices.ContainsFunc(answerable(f.Subjects), a.means)
}

// answerable returns the subjects by which a caution can be accepted, so that one acceptance never is one
// for several students. The session of a caution about something else in it is none of them: one word
// about the session would accept the caution for every student, those who come later too. Of several
// people only the first is: a partner who is away is named in the caution of each diver who was to share
// gas with them.
func answerable(subjects []finding.Subject) []finding.Subject {
	var out []finding.Subject
	people := map[string]bool{}
	for _, s := range subjects {
		person := s.Type == "person" || s.Type == "participant"
		if s.Type == "session" || person && people[s.Type] {
			continue
		}
		people[s.Type] = people[s.Type] || person
		out = append(out, s)
	}
	if out == nil {
		return subjects
	}
	return out
}

// means reports whether the acceptance names a subject. What was accepted before says of which type the
// subject was; a caller names it by its id alone.
func (a Acceptance) means(s finding.Subject) bool {
	return s.ID == a.SubjectID && (a.SubjectType == "" || a.SubjectType == s.Type)
}
