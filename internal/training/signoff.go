package training

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
)

// Signing is one wish to sign off one skill of one student.
type Signing struct {
	ID          uuid.UUID
	EnrolmentID uuid.UUID
	Skill       string
	DiveID      *uuid.UUID  // on which it was witnessed, where the skill asks for one
	Evidence    []uuid.UUID // attempts; nil: every attempt on record that may count
	Accept      []journal.Acceptance
}

// signing is a wish as it is judged.
type signing struct {
	Signing
	digest []byte
	at     string
}

// SignOff signs off many students and skills at once: each wish is judged by
// itself, in order, the later ones on what the earlier ones of the call signed;
// one that is refused undoes no other. Only an instructor signs, with the own
// token.
func (s *Service) SignOff(ctx context.Context, session uuid.UUID, wishes []Signing) (out []journal.Result, err error) {
	who := actor.From(ctx)
	if who.IsProgram() {
		return nil, fault.MissingRole("a person: a program never signs")
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := s.readCase(ctx, tx, session, wishes)
		if err != nil {
			return err
		}
		out = make([]journal.Result, len(wishes))
		for i, w := range wishes {
			out[i] = c.sign(signing{Signing: w, digest: journal.DigestOf(w), at: fmt.Sprintf("/items/%d", i)})
		}
		return c.write(ctx, tx)
	})
	return out, err
}

// signCase is everything that the wishes of one call are judged on.
type signCase struct {
	tx      *pg.Tx
	session session
	dives   []Dive
	signer  syllabus.Signer
	person  uuid.UUID
	all     map[uuid.UUID]*enrolment
	rounds  map[string]int            // enrolment and skill to the highest round
	checks  map[uuid.UUID][]uuid.UUID // enrolment to the gas checks of the session
	used    map[uuid.UUID][]byte      // digests of sign-offs that were made before
	signed  []signed
}

// signed is one sign-off to be written.
type signed struct {
	signing
	round    int
	evidence []uuid.UUID
	checks   []uuid.UUID // gas checks of the session, for a skill that touches gas
	restsOn  []uuid.UUID
	found    finding.List
}

func roundKey(enrolment uuid.UUID, skill string) string { return enrolment.String() + " " + skill }

// readCase locks the enrolments and reads everything in two round trips.
func (s *Service) readCase(ctx context.Context, tx *pg.Tx, id uuid.UUID, wishes []Signing) (*signCase, error) {
	who := actor.From(ctx)
	enrolments, ids := make([]uuid.UUID, len(wishes)), make([]uuid.UUID, len(wishes))
	for i, w := range wishes {
		enrolments[i], ids[i] = w.EnrolmentID, w.ID
	}
	if err := lockEnrolments(ctx, tx, enrolments); err != nil {
		return nil, err
	}
	var b pgx.Batch
	var rows []session
	var dives []Dive
	var crew []string
	var used []journal.Used
	var rounds []struct {
		EnrolmentID uuid.UUID
		Skill       string
		Round       int
	}
	args := pgx.StrictNamedArgs{"session": id}
	pg.Queue(&b, &rows, sessionSQL, args)
	pg.Queue(&b, &dives, `SELECT id, number, training_dive FROM sessions_dive WHERE centre_id = app_centre() AND session_id = @session ORDER BY number`, args)
	pg.Queue(&b, &crew, `SELECT role FROM sessions_participant WHERE centre_id = app_centre() AND session_id = @session AND person_id = @person AND role <> 'student'`,
		pgx.StrictNamedArgs{"session": id, "person": who.Person})
	pg.Queue(&b, &used, `SELECT id, body_digest FROM sign_off WHERE centre_id = app_centre() AND id = ANY (@ids)`, pgx.StrictNamedArgs{"ids": ids})
	pg.Queue(&b, &rounds, `SELECT enrolment_id, skill, max(round) AS round FROM sign_off WHERE centre_id = app_centre() AND enrolment_id = ANY (@ids) GROUP BY enrolment_id, skill`,
		pgx.StrictNamedArgs{"ids": enrolments})
	var checks []witnessedRow
	pg.Queue(&b, &checks, checksOfSession, pgx.StrictNamedArgs{"session": id, "ids": enrolments})
	papers := queuePapers(&b, who.Person)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, fault.Missing("session")
	}
	c := &signCase{tx: tx, session: rows[0], dives: dives, person: who.Person, used: journal.ByID(used), rounds: map[string]int{}, checks: map[uuid.UUID][]uuid.UUID{},
		signer: signerOf(who, *papers)}
	c.signer.Crew, c.signer.Witnessed = len(crew) > 0, len(crew) > 0
	for _, r := range rounds {
		c.rounds[roundKey(r.EnrolmentID, r.Skill)] = r.Round
	}
	for _, x := range checks {
		c.checks[x.EnrolmentID] = append(c.checks[x.EnrolmentID], x.ID)
	}
	var err error
	c.all, err = s.standings(ctx, tx, enrolments)
	return c, err
}

// paperRow is a paper of a signer.
type paperRow struct {
	ID         uuid.UUID
	Kind       syllabus.PaperKind
	IssuedOn   time.Time
	ValidUntil *time.Time
}

func queuePapers(b *pgx.Batch, person uuid.UUID) *[]paperRow {
	out := new([]paperRow)
	pg.Queue(b, out, `SELECT id, kind, issued_on, valid_until FROM people_paper WHERE centre_id = app_centre() AND person_id = @person`, pgx.StrictNamedArgs{"person": person})
	return out
}

func signerOf(who actor.Actor, papers []paperRow) syllabus.Signer {
	out := syllabus.Signer{Person: who.Person.String(), Program: who.IsProgram(), Instructor: who.Is(actor.Instructor), Manager: who.Is(actor.Manager)}
	for _, p := range papers {
		paper := syllabus.Paper{Kind: p.Kind, From: dayOf(p.IssuedOn)}
		if p.ValidUntil != nil {
			paper.Until = dayOf(*p.ValidUntil)
		}
		out.Papers = append(out.Papers, paper)
	}
	return out
}

// sign judges one wish, and if it stands, notes the sign-off for those after it.
func (c *signCase) sign(w signing) journal.Result {
	if r, ok := journal.Before(c.used, w.ID, w.digest); ok {
		return r
	}
	e, ok := c.all[w.EnrolmentID]
	if !ok {
		return refused(w.ID, fault.UnknownReference("enrolment", w.at+"/enrolment_id"))
	}
	number, err := diveNumber(c.dives, w.DiveID, w.at+"/dive_id")
	if err != nil {
		refusal, _ := refusalOf(err)
		return refused(w.ID, refusal)
	}
	evidence := texts(w.Evidence)
	if w.Evidence == nil {
		evidence = syllabus.Evidence(e.Syllabus, *e.Standing, w.Skill)
	}
	found := syllabus.MaySign(syllabus.Case{Syllabus: e.Syllabus, Skill: w.Skill, Standing: *e.Standing, Signer: c.signer,
		Session: syllabus.Session{ID: c.session.ID.String(), Setting: c.session.Kind, State: c.session.State},
		On:      c.session.day(), SignedOn: e.day(c.tx.Now), Dive: number, Evidence: evidence})
	found = named(*e, found)
	if err := journal.Settle(actor.Actor{Person: c.person}, found, w.Accept); err != nil {
		refusal, _ := refusalOf(err)
		return refused(w.ID, refusal)
	}
	c.add(e, w, evidence, found)
	return journal.Result{ID: w.ID, Status: journal.Recorded, Findings: found}
}

func refused(id uuid.UUID, f *fault.Fault) journal.Result {
	return journal.Result{ID: id, Status: journal.NotRecorded, Refusal: f, Findings: f.Findings}
}

func (c *signCase) add(e *enrolment, w signing, evidence []string, found finding.List) {
	key := roundKey(w.EnrolmentID, w.Skill)
	c.rounds[key]++
	out := signed{signing: w, round: c.rounds[key], evidence: []uuid.UUID{}, restsOn: restsOn(e, w.Skill), found: found}
	for _, id := range evidence {
		out.evidence = append(out.evidence, uuid.MustParse(id))
	}
	if k := e.Syllabus.Skill(w.Skill); k != nil && k.TouchesGas {
		out.checks = c.checks[w.EnrolmentID]
	}
	c.signed = append(c.signed, out)
	c.used[w.ID] = w.digest
	e.Standing.SignOffs = append(e.Standing.SignOffs, syllabus.SignOff{ID: w.ID.String(), Skill: w.Skill, Signer: c.signer.Person, On: c.session.day(), Evidence: evidence})
}

// restsOn gives the standing sign-offs and credits of everything that comes
// before a skill.
func restsOn(e *enrolment, skill string) []uuid.UUID {
	out := []uuid.UUID{}
	for _, code := range e.Syllabus.Before(skill) {
		for _, x := range e.Standing.SignOffs {
			if x.Skill == code && !x.Voided {
				out = append(out, uuid.MustParse(x.ID))
			}
		}
		for _, x := range e.Standing.Credits {
			if x.Skill == code && !x.Voided {
				out = append(out, uuid.MustParse(x.ID))
			}
		}
	}
	return out
}

// signOffBody is what the ledger keeps of a sign-off.
type signOffBody struct {
	Skill    string            `json:"skill"`
	Round    int               `json:"round"`
	Session  uuid.UUID         `json:"session_id"`
	SignedBy uuid.UUID         `json:"signed_by"`
	Witness  time.Time         `json:"witnessed_at"`
	RestsOn  []uuid.UUID       `json:"rests_on"`
	Attempts []uuid.UUID       `json:"attempts"`
	Evidence []ledger.Evidence `json:"evidence"` // the attempts and gas checks, with their digests
	Findings ledger.Hash       `json:"findings"`
	Rules    []string          `json:"rules"` // of the findings, without their prose
	Syllabus uuid.UUID         `json:"syllabus_id"`
	Number   int               `json:"syllabus_number"`
	Papers   []syllabus.Paper  `json:"papers"`
}

// write inserts what was signed, set-wise, with the ledger and the decisions.
func (c *signCase) write(ctx context.Context, tx *pg.Tx) error {
	if len(c.signed) == 0 {
		return nil
	}
	evidence, err := c.gather(ctx, tx)
	if err != nil {
		return err
	}
	rows := make([]map[string]any, len(c.signed))
	entries := make([]ledger.Entry, len(c.signed))
	decisions := make([]journal.Decision, len(c.signed))
	for i, o := range c.signed {
		e := c.all[o.EnrolmentID]
		rows[i] = map[string]any{"id": o.ID, "enrolment_id": o.EnrolmentID, "skill": o.Skill, "round": o.round, "evidence": o.evidence,
			"rests_on": o.restsOn, "findings": append(finding.List{}, o.found...), "digest": o.digest}
		found, err := digestOf(o.found)
		if err != nil {
			return err
		}
		body := signOffBody{Skill: o.Skill, Round: o.round, Session: c.session.ID, SignedBy: c.person, Witness: c.session.OnDay, RestsOn: o.restsOn,
			Attempts: o.evidence, Evidence: pick(evidence, slices.Concat(o.evidence, o.checks)...), Findings: found, Rules: rulesOf(o.found), Syllabus: e.SyllabusID, Number: e.SyllabusNo, Papers: c.signer.Papers}
		entries[i] = ledger.Entry{Subject: ledger.Subject{Type: "enrolment", ID: o.EnrolmentID}, Kind: ledger.SignOff, Ref: o.ID, Body: body}
		decisions[i] = journal.Decision{Kind: "sign_off", Subject: finding.Subject{Type: "enrolment", ID: o.EnrolmentID.String()},
			Judged: body, Findings: o.found, Accepted: o.Accept}
	}
	text, err := json.Marshal(rows)
	if err != nil {
		return fmt.Errorf("sign off: %w", err)
	}
	var b pgx.Batch
	b.Queue(`INSERT INTO sign_off (centre_id, id, enrolment_id, skill, round, session_id, signed_by, witnessed_at, signed_at, evidence, rests_on, findings, body_digest)
		SELECT app_centre(), x.id, x.enrolment_id, x.skill, x.round, @session, @by, @day, @now, x.evidence, x.rests_on, x.findings, decode(x.digest, 'base64')
		FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, enrolment_id uuid, skill text, round int, evidence uuid[], rests_on uuid[], findings jsonb, digest text)`,
		pgx.StrictNamedArgs{"rows": string(text), "session": c.session.ID, "by": c.person, "day": c.session.OnDay, "now": tx.Now})
	if err := tx.Send(ctx, &b); err != nil {
		return err
	}
	if err := journal.DecideAll(ctx, tx, decisions); err != nil {
		return err
	}
	return ledger.AppendAll(ctx, tx, entries)
}

// digestOf is what the ledger keeps of findings in full.
func digestOf(l finding.List) (ledger.Hash, error) {
	return ledger.Digest(append(finding.List{}, l...))
}

func rulesOf(l finding.List) []string {
	out := make([]string, 0, len(l))
	for _, f := range l {
		out = append(out, f.Rule)
	}
	return out
}
