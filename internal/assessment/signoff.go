package assessment

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
)

// Signing asks for one skill of one student to be signed off.
type Signing struct {
	ID          uuid.UUID            `json:"ID"`
	EnrolmentID uuid.UUID            `json:"EnrolmentID"`
	Skill       string               `json:"Skill"`
	DiveID      *uuid.UUID           `json:"DiveID"`   // on which it was witnessed, where the skill asks for one
	Evidence    []uuid.UUID          `json:"Evidence"` // attempts; nil: see syllabus.Evidence
	Accept      []journal.Acceptance `json:"Accept"`
	SignedAt    *time.Time           `json:"SignedAt,omitempty"` // of one made without coverage; nil: now
}

// Times implements journal.Item.
func (w *Signing) Times() []*time.Time { return []*time.Time{w.SignedAt} }

// Digest implements journal.Item.
func (w Signing) Digest(session uuid.UUID) []byte {
	return journal.DigestOf(struct {
		Session uuid.UUID `json:"Session"`
		Wish    Signing   `json:"Wish"`
	}{session, w})
}

// Names implements journal.Item.
func (w Signing) Names() []journal.Ref {
	out := slices.Concat(journal.Named(journal.AnEnrolment, &w.EnrolmentID),
		journal.Named(journal.ADive, w.DiveID))
	for _, id := range w.Evidence {
		out = append(out, journal.Ref{Kind: journal.AnEntry, ID: id})
	}
	return out
}

// fromWater reports whether the sign-off was made without coverage. Then what the
// roll call says since does not hold it up, and neither does another sign-off of
// the skill: flags point out both, whatever arrived first.
func (w Signing) fromWater() bool { return w.SignedAt != nil }

// signing is a Signing as it is judged.
type signing struct {
	Signing
	digest []byte
	at     string
}

// SignOff signs off many students and skills at once: each Signing is judged by
// itself, in order, the later ones on what the earlier ones of the call signed;
// one that is refused undoes no other. Only an instructor signs, with their own
// token; an assistant or a manager who asks is refused by the rules, a program
// or a student may not ask at all.
func (s *Service) SignOff(ctx context.Context, by actor.Actor, session uuid.UUID,
	wishes []Signing) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterSignOffs(ctx, by, tx, session, wishes)
		return err
	})
	return out, err
}

// EnterSignOffs is SignOff in the caller's transaction.
func (s *Service) EnterSignOffs(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	wishes []Signing) ([]journal.Result, error) {
	c, err := s.readCase(ctx, by, tx, session, wishes)
	if err != nil {
		return nil, err
	}
	out := make([]journal.Result, len(wishes))
	for i, w := range wishes {
		out[i] = c.sign(signing{Signing: w, digest: w.Digest(session), at: fmt.Sprintf("/items/%d", i)})
	}
	return out, c.write(ctx, by, tx)
}

// HoldEnrolments locks enrolments, ascending, for a caller that signs off in
// several calls of one transaction.
func (s *Service) HoldEnrolments(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) error {
	return lockEnrolments(ctx, tx, ids)
}

// signCase is everything that the wishes of one call are judged on.
type signCase struct {
	tx      *pg.Tx
	session standing.Session
	dives   []dayview.Dive
	signer  syllabus.Signer
	papers  []paperRow
	person  uuid.UUID
	name    string                    // of the person
	self    []present                 // the signer's own part in the session
	there   map[uuid.UUID][]present   // the students' parts, by enrolment
	checks  map[uuid.UUID][]uuid.UUID // gas checks of the session, by enrolment
	all     map[uuid.UUID]*standing.Enrolment
	used    map[uuid.UUID][]byte // digests of sign-offs that were made before
	signed  []signed
}

// signed is one sign-off to be written.
type signed struct {
	signing
	on       syllabus.SignOffRequest // what it was judged on
	standing decision.Standing       // of the enrolment, without this sign-off
	round    int
	evidence []uuid.UUID
	checks   []uuid.UUID // gas checks, of a skill that touches gas
	restsOn  []uuid.UUID
	found    finding.List
}

// present is somebody's part in the session: as it counts, or as a roll call says
// it that brings somebody unexpected.
type present struct {
	Counts      bool
	PersonID    uuid.UUID
	EnrolmentID *uuid.UUID
	GroupID     *uuid.UUID
	Role        string
	Attendance  string
}

// tookPart reports whether roll call has the person as there; until it is called,
// the plan counts.
func (p present) tookPart() bool { return p.Attendance != "absent" && p.Attendance != "sat_out" }

// with reports whether two parts are in one group; who is in none is with all.
func (p present) with(o present) bool {
	return p.GroupID == nil || o.GroupID == nil || *p.GroupID == *o.GroupID
}

const presentSQL = `
	SELECT true AS counts, person_id, enrolment_id, group_id, role, attendance
	FROM sessions_participant
	WHERE centre_id = app_centre() AND session_id = @session
		AND (person_id = @person OR enrolment_id = ANY (@enrolments))
	UNION ALL
	SELECT false, person_id, enrolment_id, group_id, role, ''
	FROM sessions_arrival
	WHERE centre_id = app_centre() AND session_id = @session AND stands
		AND (person_id = @person OR enrolment_id = ANY (@enrolments))
	ORDER BY counts DESC`

// readCase locks the enrolments and then reads everything, in one round trip.
func (s *Service) readCase(ctx context.Context, by actor.Actor, tx *pg.Tx, id uuid.UUID,
	wishes []Signing) (*signCase, error) {
	enrolments, ids := make([]uuid.UUID, len(wishes)), make([]uuid.UUID, len(wishes))
	for i, w := range wishes {
		enrolments[i], ids[i] = w.EnrolmentID, w.ID
	}
	c := &signCase{tx: tx, person: by.Person}
	var b pgx.Batch
	queueLocks(&b, enrolments)
	var rows []standing.Session
	var parts []present
	var used []journal.Used
	var checks []waterview.SessionCheck
	var names []string
	standing.QueueSessions(&b, &rows, []uuid.UUID{id})
	standing.QueuePlannedDives(&b, &c.dives, id)
	pg.QueueRows(&b, &parts, presentSQL,
		pgx.StrictNamedArgs{"session": id, "person": by.Person, "enrolments": enrolments})
	waterview.QueueSessionChecks(&b, &checks, id, enrolments)
	pg.QueueRows(&b, &used, `
		SELECT id, body_digest
		FROM sign_off
		WHERE centre_id = app_centre() AND id = ANY (@ids)`, pgx.StrictNamedArgs{"ids": ids})
	pg.QueueRows(&b, &names, `SELECT name FROM people_person WHERE centre_id = app_centre() AND id = @id`,
		pgx.StrictNamedArgs{"id": by.Person})
	papers, record := queuePapers(&b, by.Person), standing.Queue(&b, enrolments)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, fault.NoSuch("session")
	}
	c.session, c.used, c.papers, c.signer = rows[0], journal.ByID(used), *papers, signerOf(by, *papers)
	c.name = strings.Join(names, "")
	c.checks = make(map[uuid.UUID][]uuid.UUID)
	for _, g := range checks {
		c.checks[g.EnrolmentID] = append(c.checks[g.EnrolmentID], g.ID)
	}
	c.attend(parts)
	var err error
	c.all, err = s.standings.Compose(ctx, tx, record)
	return c, err
}

// attend sorts out who was there.
func (c *signCase) attend(parts []present) {
	c.there = make(map[uuid.UUID][]present, len(parts))
	for _, p := range parts {
		switch {
		case p.EnrolmentID != nil:
			c.there[*p.EnrolmentID] = append(c.there[*p.EnrolmentID], p)
		case p.PersonID == c.person && p.Role != "student":
			c.self = append(c.self, p)
		}
	}
}

// weighs returns the parts that a sign-off is judged by: for one from the water
// whatever a roll call says is enough, since another may be on its way; otherwise
// the one that counts.
func (w signing) weighs(parts []present) []present {
	switch {
	case w.fromWater():
		return parts
	case len(parts) > 0 && parts[0].Counts:
		return parts[:1]
	}
	return nil
}

// with reports whether somebody of the crew and a student are in one group.
func with(crew, student []present) bool {
	return slices.ContainsFunc(crew, func(c present) bool {
		return len(student) == 0 || slices.ContainsFunc(student, c.with)
	})
}

// paperRow is a paper of a signer, voided ones left out.
type paperRow struct {
	ID         uuid.UUID          `json:"id"`
	Kind       syllabus.PaperKind `json:"kind"`
	IssuedOn   time.Time          `json:"issued_on"`
	ValidUntil *time.Time         `json:"valid_until"`
}

func queuePapers(b *pgx.Batch, person uuid.UUID) *[]paperRow {
	out := new([]paperRow)
	pg.QueueRows(b, out, `
		SELECT id, kind, issued_on, valid_until
		FROM people_paper
		WHERE centre_id = app_centre() AND person_id = @person
		ORDER BY id`,
		pgx.StrictNamedArgs{"person": person})
	return out
}

func signerOf(by actor.Actor, papers []paperRow) syllabus.Signer {
	out := syllabus.Signer{Person: by.Person.String(), Program: by.IsProgram(),
		Instructor: by.Is(actor.Instructor), Manager: by.Is(actor.Manager)}
	for _, p := range papers {
		paper := syllabus.Paper{Kind: p.Kind, From: standing.DayOf(p.IssuedOn)}
		if p.ValidUntil != nil {
			paper.Until = standing.DayOf(*p.ValidUntil)
		}
		out.Papers = append(out.Papers, paper)
	}
	return out
}

// sign judges one wish, and if it stands, notes the sign-off for those after it.
func (c *signCase) sign(w signing) journal.Result {
	if r, ok := journal.ReplayResult(c.used, w.ID, w.digest); ok {
		return r
	}
	e, ok := c.all[w.EnrolmentID]
	if !ok {
		return refused(w.ID, fault.UnknownReference("enrolment", w.at+"/enrolment_id"))
	}
	number, err := watercheck.TrainingDive(c.dives, w.DiveID, w.at+"/dive_id")
	if err != nil {
		refusal, _ := journal.RefusalOf(err)
		return refused(w.ID, refusal)
	}
	if w.fromWater() {
		if err := journal.CheckTime(c.tx.Now, *w.SignedAt, w.at+"/signed_at"); err != nil {
			refusal, _ := journal.RefusalOf(err)
			return refused(w.ID, refusal)
		}
	}
	x := c.caseOf(e, w, number)
	w.Accept = journal.AcceptedBy(w.Accept, c.person, c.name, c.tx.Now)
	found, err := journal.RequireAccepted(actor.Actor{Person: c.person},
		standing.ForStudent(*e, syllabus.MaySign(x)).InSession(c.session.ID.String()), w.Accept)
	if err != nil {
		refusal, _ := journal.RefusalOf(err)
		return refused(w.ID, refusal)
	}
	c.add(e, w, x, found)
	return journal.Result{ID: w.ID, Status: journal.Recorded, Findings: found}
}

// caseOf puts together what the rule is asked. By signing, crew who were with
// the student's group say that they saw it; others need an attempt that they
// are on record as having witnessed.
func (c *signCase) caseOf(e *standing.Enrolment, w signing, dive int) syllabus.SignOffRequest {
	day, today := c.session.Day(), e.Day(c.signedAt(w))
	out := syllabus.SignOffRequest{Syllabus: e.Syllabus, Skill: w.Skill, Standing: *e.Standing,
		Signer: c.signer, On: day, SignedOn: today, Dive: dive,
		OneOfSeveral: w.fromWater(), Session: syllabus.Session{ID: c.session.ID.String(),
			Setting: c.session.Kind, State: c.session.State}, Evidence: standing.Texts(w.Evidence)}
	if w.Evidence == nil {
		out.Evidence = syllabus.Evidence(e.Syllabus, *e.Standing, w.Skill, day, today)
	}
	there, self := w.weighs(c.there[e.ID]), w.weighs(c.self)
	tried := slices.ContainsFunc(e.Standing.Attempts,
		func(a syllabus.Attempt) bool { return a.Session == out.Session.ID && !a.Voided })
	out.Absent = len(there) == 0 || !w.fromWater() && !there[0].tookPart() && !tried
	out.Signer.Crew = len(self) > 0 && (w.fromWater() || self[0].Attendance != "absent")
	out.Signer.Witnessed = out.Signer.Crew && (w.fromWater() || self[0].tookPart()) && with(self, there)
	return out
}

// signedAt returns when the signer signed.
func (c *signCase) signedAt(w signing) time.Time {
	if w.fromWater() {
		return *w.SignedAt
	}
	return c.tx.Now
}

func refused(id uuid.UUID, f *fault.Fault) journal.Result {
	return journal.Result{ID: id, Status: journal.NotRecorded, Refusal: f, Findings: f.Findings}
}

func (c *signCase) add(e *standing.Enrolment, w signing, x syllabus.SignOffRequest, found finding.List) {
	e.Rounds[w.Skill]++
	out := signed{signing: w, on: x, standing: decision.StandingOf(x.Standing),
		round: e.Rounds[w.Skill], evidence: []uuid.UUID{},
		restsOn: restsOn(e, w.Skill), found: found}
	for _, id := range x.Evidence {
		out.evidence = append(out.evidence, uuid.MustParse(id))
	}
	if e.Syllabus.Skill(w.Skill).TouchesGas {
		out.checks = c.checks[e.ID]
	}
	c.signed = append(c.signed, out)
	c.used[w.ID] = w.digest
	e.Standing.SignOffs = append(e.Standing.SignOffs,
		syllabus.SignOff{ID: w.ID.String(), Skill: w.Skill, Signer: c.signer.Person, On: x.On,
			Evidence: x.Evidence})
}

// restsOn returns the standing sign-offs and credits of everything that comes
// before a skill.
func restsOn(e *standing.Enrolment, skill string) []uuid.UUID {
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
