package ledger

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/pg"
)

// pageSize is how many entries Verify holds in memory at once: our choice.
const pageSize = 1000

// Verify walks all chains of a centre in one snapshot and compares them with their heads, with the
// decided rows and with the evidence. The report has everything that differs from what was written;
// the error is for a failure to check. The caller's role must see the whole centre.
func Verify(ctx context.Context, db *pg.DB, centre uuid.UUID, s Sources) (Report, error) {
	var r Report
	err := db.Snapshot(ctx, centre, func(ctx context.Context, tx *pg.Tx) error {
		v := verifier{tx: tx, sources: s, report: &Report{Centre: centre, At: tx.Now, Problems: []Problem{}}}
		for _, check := range []func(context.Context) error{v.chains, v.headless, v.unrecorded} {
			if err := check(ctx); err != nil {
				return err
			}
		}
		r = *v.report
		return nil
	})
	if err != nil {
		return Report{}, fmt.Errorf("verify ledger: %w", err)
	}
	return r, nil
}

type verifier struct {
	tx      *pg.Tx
	sources Sources
	report  *Report
	salts   map[decision]Salt // of the current page of entries
}

func (v *verifier) add(p Problem) { v.report.Problems = append(v.report.Problems, p) }

// chains walks all entries, page by page, and compares each page with its rows
// and evidence.
func (v *verifier) chains(ctx context.Context) error {
	w := walker{report: v.report, centre: v.tx.Centre}
	var after stored
	for {
		found, err := pg.Rows[stored](ctx, v.tx, `
			SELECT e.subject_type, e.subject_id, e.seq, e.kind, e.at, e.person_id, e.token_id, e.ref_id,
				e.prev, e.hash, e.canonical, h.seq AS head_seq, h.hash AS head_hash
			FROM ledger_entry e
			LEFT JOIN ledger_head h USING (centre_id, subject_type, subject_id)
			WHERE e.centre_id = @centre
				AND (e.subject_type, e.subject_id, e.seq) > (@type::text, @subject::uuid, @seq::bigint)
			ORDER BY e.subject_type, e.subject_id, e.seq
			LIMIT @page`,
			pgx.StrictNamedArgs{"centre": v.tx.Centre, "type": after.Type, "subject": after.SubjectID,
				"seq": after.Seq, "page": pageSize})
		if err != nil {
			return err
		}
		if len(found) == 0 {
			w.finish()
			return nil
		}
		var records []record
		for i := range found {
			if c := w.step(&found[i]); c != nil {
				records = append(records, *c)
			}
		}
		if v.salts, err = saltsOf(ctx, v.tx, records); err != nil {
			return err
		}
		if err := v.rows(ctx, records); err != nil {
			return err
		}
		if err := v.evidence(ctx, records); err != nil {
			return err
		}
		after = found[len(found)-1]
	}
}

// of returns a problem with the record's entry.
func (c *record) of(code Code) Problem {
	return Problem{Code: code, Subject: c.Subject, Seq: c.Seq, EntryKind: c.Kind, Ref: c.Ref}
}

// rows compares records with the decided rows.
func (v *verifier) rows(ctx context.Context, records []record) error {
	byKind := map[Kind][]record{}
	for _, c := range records {
		byKind[c.Kind] = append(byKind[c.Kind], c)
	}
	for _, kind := range slices.Sorted(maps.Keys(byKind)) {
		d := slices.IndexFunc(v.sources.Decided, func(d Decided) bool { return d.Kind == kind })
		if d < 0 {
			for _, c := range byKind[kind] {
				p := c.of(Unknown)
				p.Detail = "nothing answers for decisions of this kind"
				v.add(p)
			}
			continue
		}
		if err := v.compare(ctx, v.sources.Decided[d], byKind[kind]); err != nil {
			return fmt.Errorf("%s: %w", kind, err)
		}
	}
	return nil
}

func (v *verifier) compare(ctx context.Context, d Decided, records []record) error {
	if d.SQL == "" {
		return nil
	}
	refs := make([]uuid.UUID, len(records))
	for i, c := range records {
		refs[i] = c.Ref
	}
	rows, err := find(ctx, v.tx, d.SQL, refs)
	if err != nil {
		return err
	}
	for _, c := range records {
		v.report.Rows++
		r, ok := rows[c.Ref]
		if !ok {
			v.add(c.of(RowMissing))
			continue
		}
		if got := r.id("subject"); got != c.Subject.ID {
			p := c.of(RowMoved)
			p.Detail = fmt.Sprintf("the row belongs to %s", got)
			v.add(p)
		}
		p := c.of(RowChanged)
		p.Fields, err = r.differs(&c, v.salts[decision{c.Kind, c.Ref}])
		switch {
		case errors.Is(err, errBody):
			p.Code, p.Detail = EntryChanged, err.Error()
			v.add(p)
		case err != nil:
			return err
		case len(p.Fields) > 0:
			v.add(p)
		}
	}
	return nil
}

// claim is one piece of evidence with the record that rests on it.
type claim struct {
	Evidence
	by *record
}

// evidence compares the evidence that records carry with the witnessed rows.
func (v *verifier) evidence(ctx context.Context, records []record) error {
	byType := map[string][]claim{}
	for i := range records {
		var body struct {
			Evidence []Evidence `json:"evidence"`
		}
		if err := json.Unmarshal(records[i].Body, &body); err != nil {
			p := records[i].of(Unknown)
			p.Detail = "its evidence is not readable"
			v.add(p)
		}
		for _, e := range body.Evidence {
			byType[e.Type] = append(byType[e.Type], claim{e, &records[i]})
		}
	}
	for _, t := range slices.Sorted(maps.Keys(byType)) {
		if err := v.compareEvidence(ctx, t, byType[t]); err != nil {
			return fmt.Errorf("evidence %s: %w", t, err)
		}
	}
	return nil
}

func (v *verifier) compareEvidence(ctx context.Context, typ string, claims []claim) error {
	bad := func(c claim, code Code, detail string) {
		v.add(Problem{Code: code, Subject: c.by.Subject, Seq: c.by.Seq, EntryKind: c.by.Kind, Ref: c.ID,
			Detail: detail})
	}
	i := slices.IndexFunc(v.sources.Witnessed, func(w Witnessed) bool { return w.Type == typ })
	if i < 0 {
		for _, c := range claims {
			bad(c, Unknown, "nothing answers for evidence of type "+typ)
		}
		return nil
	}
	ids := make([]uuid.UUID, len(claims))
	for i, c := range claims {
		ids[i] = c.ID
	}
	rows, err := find(ctx, v.tx, v.sources.Witnessed[i].SQL, ids)
	if err != nil {
		return err
	}
	for _, c := range claims {
		v.report.Evidence++
		r, ok := rows[c.ID]
		if !ok {
			bad(c, EvidenceMissing, typ)
			continue
		}
		seen, err := digestible(r)
		if err != nil {
			return err
		}
		if salt := v.salts[decision{c.by.Kind, c.by.Ref}]; c.Digest != salt.over(seen) &&
			c.Digest != (Salt{}).over(seen) {
			bad(c, EvidenceChanged, typ)
		}
	}
	return nil
}

// headless reports heads whose chains are gone.
func (v *verifier) headless(ctx context.Context) error {
	gone, err := pg.Rows[struct {
		Type string    `db:"subject_type"`
		ID   uuid.UUID `db:"subject_id"`
		Seq  int64     `db:"seq"`
	}](ctx, v.tx, `
		SELECT h.subject_type, h.subject_id, h.seq
		FROM ledger_head h
		WHERE h.centre_id = @centre
			AND NOT EXISTS (
				SELECT
				FROM ledger_entry e
				WHERE e.centre_id = h.centre_id
					AND e.subject_type = h.subject_type
					AND e.subject_id = h.subject_id)
		ORDER BY h.subject_id, h.subject_type`, pgx.StrictNamedArgs{"centre": v.tx.Centre})
	if err != nil {
		return err
	}
	for _, h := range gone {
		v.add(Problem{Code: ChainMissing, Subject: Subject{Type: h.Type, ID: h.ID},
			Detail: fmt.Sprintf("the head stands at %d and no entry is there", h.Seq)})
	}
	return nil
}

// unrecorded reports decided rows without an entry, and with several.
func (v *verifier) unrecorded(ctx context.Context) error {
	for _, d := range v.sources.Decided {
		if d.SQL == "" {
			continue
		}
		found, err := pg.Rows[struct {
			Ref     uuid.UUID `db:"ref"`
			Subject uuid.UUID `db:"subject"`
			N       int       `db:"n"`
		}](ctx, v.tx, `
			WITH recorded AS (
				SELECT ref_id, count(*) AS n
				FROM ledger_entry
				WHERE centre_id = @centre AND kind = @kind
				GROUP BY ref_id)
			SELECT r.ref, r.subject, coalesce(e.n, 0) AS n
			FROM (`+d.SQL+`) r
			LEFT JOIN recorded e ON e.ref_id = r.ref
			WHERE e.n IS DISTINCT FROM 1
			ORDER BY r.ref`,
			pgx.StrictNamedArgs{"centre": v.tx.Centre, "kind": d.Kind})
		if err != nil {
			return fmt.Errorf("%s: %w", d.Kind, err)
		}
		for _, f := range found {
			p := Problem{Code: RowAdded, Subject: Subject{ID: f.Subject}, EntryKind: d.Kind, Ref: f.Ref,
				Detail: "no entry records it"}
			if f.N > 1 {
				p.Code, p.Detail = EntryRepeated, fmt.Sprintf("%d entries record it", f.N)
			}
			v.add(p)
		}
	}
	return nil
}
