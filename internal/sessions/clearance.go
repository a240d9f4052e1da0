package sessions

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/ledger"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
)

// mode is whether what changed a group was a plan or a fact.
type mode int

const (
	plan mode = iota // refused when it puts a group over its ratio
	fact             // accepted; a group over its ratio loses its clearance
)

// judgement is what the ratio rule said of all groups of a session.
type judgement struct {
	binding  finding.List // what this change brought about: decides a plan
	standing finding.List // what was wrong with a group before, and is no worse
	groups   []decision.Group
	snapshot snapshot // what they were judged on
}

// all returns everything found.
func (j judgement) all() finding.List {
	return append(append(finding.List{}, j.binding...), j.standing...)
}

// snapshot is a session at one moment, with everything that its groups are judged on.
type snapshot struct {
	dayview.View
	books []ratio.Book
}

// snapshotOf returns the snapshot of a session that was read with its people.
func snapshotOf(v dayview.View) (snapshot, error) {
	books, err := v.Centre.Books()
	if err != nil {
		err = fmt.Errorf("judge groups: %w", err)
	}
	return snapshot{v, books}, err
}

func personIDs(parts []Participant) []uuid.UUID {
	ids := make([]uuid.UUID, len(parts))
	for i, p := range parts {
		ids[i] = p.PersonID
	}
	return ids
}

// group returns one group as the ratio rule judges it.
func (b snapshot) group(g Group) ratio.Group {
	out := ratio.Group{Setting: b.Kind, Level: b.Course.Level,
		LoweredTo:  lower(g.PlacesLowered, b.PlacesLowered),
		Conditions: b.Water.Conditions(), Subject: finding.Subject{Type: "group", ID: g.ID.String()}}
	if bottom := b.Site.MaxDepth; bottom != nil {
		out.Bottom = new(bottom.Depth())
	}
	for _, p := range b.Participants {
		if p.GroupID == nil || *p.GroupID != g.ID || !p.Counted {
			continue
		}
		who := b.People[p.PersonID]
		switch p.Role {
		case Student:
			out.Ages = append(out.Ages, who.Age)
		case InCharge:
			out.Instructor, out.Ashore = true, p.NotDiving
		case Instructor:
			assist(&out, p)
		case Assistant:
			if len(roster.Assistant(who.Person, roster.Day(b.Day()))) == 0 {
				assist(&out, p)
			} else {
				out.Uncounted++
			}
		}
	}
	return out
}

// assist counts somebody as an assistant of a group, diving or not.
func assist(g *ratio.Group, p Participant) {
	g.Assistants++
	if p.NotDiving {
		g.NotDiving++
	}
}

// lower returns the lower of two limits, nil where neither is set.
func lower(a, b *int) *int {
	if a == nil || b != nil && *b < *a {
		return b
	}
	return a
}

// judge judges every group of the session, and returns too what each was judged on.
func (b snapshot) judge() ([]ratio.Verdict, []decision.Group) {
	verdicts, kept := make([]ratio.Verdict, len(b.Groups)), make([]decision.Group, len(b.Groups))
	for i, g := range b.Groups {
		c := b.group(g)
		verdicts[i] = ratio.Judge(b.books, c)
		kept[i] = groupJudgedOn(g, c, verdicts[i])
	}
	return verdicts, kept
}

// read reads a session with everything that it is judged by: after the last lock, or
// after a change that is to be judged.
func read(ctx context.Context, tx *pg.Tx, session uuid.UUID) (dayview.View, error) {
	return dayview.One(ctx, tx, session, dayview.People|dayview.Facts|dayview.Told)
}

// rejudge judges all groups of a session again, after their members, crew,
// conditions or limits changed, and writes what came out. The session and its
// groups are locked. A plan is not refused here: its findings come back as
// binding, and settle refuses. A group that was over its ratio before and got
// no worse does not stand in the way of a plan.
func (s *Service) rejudge(ctx context.Context, by actor.Actor, tx *pg.Tx, session Session, cause string,
	m mode) (judgement, error) {
	v, err := read(ctx, tx, session.ID)
	if err != nil {
		return judgement{}, fmt.Errorf("judge groups: %w", err)
	}
	return s.judgeAgain(ctx, by, tx, v, cause, m)
}

// judgeAgain is rejudge of a session that was read after the change.
func (s *Service) judgeAgain(ctx context.Context, by actor.Actor, tx *pg.Tx, v dayview.View, cause string,
	m mode) (judgement, error) {
	b, err := snapshotOf(v)
	if err != nil {
		return judgement{}, err
	}
	verdicts, kept := b.judge()
	out := judgement{groups: kept, snapshot: b}
	for i, v := range verdicts {
		if v.Findings.Forbids() && !kept[i].Before.Worse(len(kept[i].Ages), v.Places) {
			out.standing = append(out.standing, v.Findings...)
			continue
		}
		out.binding = append(out.binding, v.Findings...)
	}
	if m == plan && out.binding.Forbids() {
		return out, nil // settle refuses, and the transaction leaves nothing
	}
	return out, s.write(ctx, by, tx, b.Groups, verdicts, kept, cause)
}

// keepVerdict writes what a group was judged to be, where that has changed.
const keepVerdict = `UPDATE session_group
	SET students = @students, places = @places, cleared = @cleared, findings = @findings
	WHERE centre_id = app_centre() AND id = @id
		AND (students, places, cleared, findings)
			IS DISTINCT FROM (@students::integer, @places::integer, @cleared::boolean, @findings::jsonb)`

// write keeps the verdicts, and every clearance that was lost or given back. The
// groups have what was written afterwards.
func (s *Service) write(ctx context.Context, by actor.Actor, tx *pg.Tx, groups []Group,
	verdicts []ratio.Verdict, kept []decision.Group, cause string) error {
	var b pgx.Batch
	before := slices.Clone(groups)
	for i := range groups {
		g, v := &groups[i], verdicts[i]
		found, err := json.Marshal(append(finding.List{}, v.Findings...))
		if err != nil {
			return fmt.Errorf("write clearance: %w", err)
		}
		g.Students, g.Places, g.Cleared, g.Findings = len(kept[i].Ages), v.Places, !v.Findings.Forbids(), found
		b.Queue(keepVerdict, pgx.StrictNamedArgs{"id": g.ID, "students": g.Students, "places": g.Places,
			"cleared": g.Cleared, "findings": string(found)})
	}
	tx.SendLater(&b)
	for i, g := range groups {
		if g.Cleared == before[i].Cleared {
			continue
		}
		if err := clearanceChanged(ctx, by, tx, g.ID, g.Cleared, cause, verdicts[i].Findings); err != nil {
			return err
		}
	}
	return nil
}

// change is what the ledger keeps of a clearance lost or given back.
type change struct {
	Cause    string      `json:"cause"`
	Findings ledger.Hash `json:"findings"` // entries of earlier releases have the findings in full
	Rules    []string    `json:"rules"`
}

// Ledger is where the decided rows of this package are.
var Ledger = ledger.Sources{Decided: []ledger.Decided{
	{Kind: ledger.ClearanceLost,
		SQL: `SELECT id AS ref, group_id AS subject, changed_at AS at, cause, findings FROM clearance WHERE centre_id = @centre AND NOT cleared`},
	{Kind: ledger.ClearanceGiven,
		SQL: `SELECT id AS ref, group_id AS subject, changed_at AS at, cause, findings FROM clearance WHERE centre_id = @centre AND cleared`},
}}

func clearanceChanged(ctx context.Context, by actor.Actor, tx *pg.Tx, group uuid.UUID, cleared bool,
	cause string, found finding.List) error {
	found = append(finding.List{}, found...)
	id, kind := uuid.New(), ledger.ClearanceLost
	if cleared {
		kind = ledger.ClearanceGiven
	}
	text, err := json.Marshal(found)
	if err != nil {
		return fmt.Errorf("keep clearance: %w", err)
	}
	tx.DoLater(`INSERT INTO clearance (centre_id, id, group_id, cleared, cause, findings, changed_at)
		VALUES (app_centre(), @id, @group, @cleared, @cause, @findings, @now)`,
		pgx.StrictNamedArgs{"id": id, "group": group, "cleared": cleared, "cause": cause,
			"findings": string(text), "now": tx.Now})
	salt := ledger.NewSalt()
	body := change{Cause: cause, Rules: []string{}}
	for _, f := range found {
		body.Rules = append(body.Rules, f.Rule)
	}
	if body.Findings, err = salt.Digest(found); err != nil {
		return err
	}
	return ledger.Append(ctx, by, tx,
		ledger.Entry{Subject: ledger.Subject{Type: "group", ID: group}, Kind: kind, Ref: id, Salt: salt,
			Body: body})
}

// settle lets a decision about a session stand or refuses it, and keeps it with what it was judged on.
// It returns what was found, with the session among the subjects and with who accepted each caution. A
// caution that was accepted before for the same session and subject need not be accepted again.
func settle(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID, kind string, found finding.List,
	on decision.Session, accept []journal.Acceptance) (finding.List, error) {
	found = found.InSession(session.String())
	before, err := journal.Accepted(ctx, tx, "session", session)
	if err != nil {
		return found, err
	}
	if accept, err = journal.Accepting(ctx, tx, by.Person, accept); err != nil {
		return found, err
	}
	if found, err = journal.RequireAccepted(by, found, accept, before...); err != nil {
		return found, err
	}
	return found, journal.Decide(ctx, by, tx, journal.Decision{Kind: kind,
		Subject:  finding.Subject{Type: "session", ID: session.String()},
		JudgedOn: decision.JudgedOn{Session: &on}.Stamped(), Findings: found, Accepted: accept})
}

// Rejudge judges the groups of a session anew because of a fact that stands
// elsewhere, such as a corrected birth date. It takes the session's locks.
func (s *Service) Rejudge(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	cause string) (finding.List, error) {
	held, err := hold(ctx, tx, session)
	if err != nil {
		return nil, err
	}
	j, err := s.rejudge(ctx, by, tx, held, cause, fact)
	return j.all(), err
}
