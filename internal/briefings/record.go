package briefings

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Record records a briefing. It is a fact, so rules answer it with findings. created is
// false when it was recorded before. Faults: id_reused; not_found; invalid_request for a
// time ahead or a pressure that no gauge shows; unknown_reference for a person or
// convention that is not on record.
func (s *Service) Record(ctx context.Context, by actor.Actor, n NewBriefing) (out Briefing, created bool,
	err error) {
	if err := n.check(); err != nil {
		return out, false, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		session, err := readSnapshot(ctx, tx, n.SessionID, n.mentioned())
		if err != nil {
			return err
		}
		again, err := journal.Replay(ctx, tx, n.Key.ID, n.Key.Digest)
		if err != nil {
			return err
		}
		if !again {
			r, err := s.judge(ctx, by, tx, session, n)
			if err != nil {
				return err
			}
			if err := r.write(ctx, by, tx); err != nil {
				return err
			}
		}
		created = !again
		out, err = find(ctx, tx, n.Key.ID)
		return err
	})
	return out, created, err
}

// recording is a briefing that is to be written, with the findings about it.
type recording struct {
	id, session, giver uuid.UUID
	digest             []byte // of the request
	at                 time.Time
	convention         signal.Convention
	checkEveryS        *int
	content            storedContent
	people             []briefedPerson
	acknowledged       []NewAcknowledgement
	found              finding.List
	inCharge           bool    // the giver is in charge of a group
	named              NewDive // what the briefing names of its dive
	dive               *Dive   // by which its pressures were judged
}

// judge returns a briefing as it is to be written, with the findings about it.
func (s *Service) judge(ctx context.Context, by actor.Actor, tx *pg.Tx, session sessionSnapshot,
	n NewBriefing) (r recording, err error) {
	r = recording{id: n.Key.ID, digest: n.Key.Digest, session: session.id, at: n.BriefedAt,
		checkEveryS: seconds(n.CheckEvery), named: n.Dive}
	if r.giver, err = session.witness(ctx, by, tx, n.GivenBy, "/given_by"); err != nil {
		return r, err
	}
	if err := journal.CheckTime(tx.Now, n.BriefedAt, "/briefed_at"); err != nil {
		return r, err
	}
	if r.convention, err = namedConvention(ctx, tx, n.Convention, "/convention"); err != nil {
		return r, err
	}
	if err := session.checkDive(n.Dive.DiveID); err != nil {
		return r, err
	}
	if r.content, err = session.content(n); err != nil {
		return r, err
	}
	var found, told finding.List
	if r.people, found, err = session.brief(ctx, tx, n, r.convention); err != nil {
		return r, err
	}
	if r.dive, told, err = s.reviewPressures(ctx, tx, session, n, r.people); err != nil {
		return r, err
	}
	if r.inCharge = session.people[r.giver].InCharge; !r.inCharge {
		told = append(told, giverNotInCharge(session.id, r.people)...)
	}
	r.found = slices.Concat(CheckConvention(r.convention), found, told, r.content.missingRoles(session.id),
		noInterval(session.id, n.CheckEvery))
	r.acknowledged, err = acknowledgedAtOnce(n.Acknowledged, r.people, r.giver)
	return r, err
}

// namedConvention returns the convention that a request names. Fault: unknown_reference.
func namedConvention(ctx context.Context, tx *pg.Tx, code, pointer string) (signal.Convention, error) {
	c, err := findConvention(ctx, tx, code, "")
	if fault.KindOf(err) == fault.NotFound {
		err = fault.UnknownReference("convention", pointer)
	}
	return c.Convention, err
}

// seconds returns an interval in whole seconds, nil for nil.
func seconds(every *units.Reading) *int {
	if every == nil {
		return nil
	}
	return new(int(every.Minutes()*60 + 0.5))
}

// acknowledgedAtOnce returns the acknowledgements that come with a briefing: the giver's
// own, and those given there and then. Fault: unknown_reference for a person whom the
// briefing is not for.
func acknowledgedAtOnce(all []NewAcknowledgement, people []briefedPerson,
	giver uuid.UUID) ([]NewAcknowledgement, error) {
	named := func(id uuid.UUID) bool {
		return slices.ContainsFunc(people, func(p briefedPerson) bool { return p.PersonID == id })
	}
	var out []NewAcknowledgement
	if named(giver) {
		out = append(out, NewAcknowledgement{PersonID: giver, How: GaveIt})
	}
	for i, n := range all {
		switch {
		case !named(n.PersonID):
			return nil, fault.UnknownReference("person whom the briefing is for",
				fmt.Sprintf("/heard/%d/person_id", i))
		case slices.ContainsFunc(out, func(o NewAcknowledgement) bool { return o.PersonID == n.PersonID }):
			continue
		}
		out = append(out, n)
	}
	return out, nil
}

// BriefingKind returns the kind of briefings, which no batch brings.
func (s *Service) BriefingKind() journal.EntryKind {
	return journal.Summarised(journal.EntryKind{Kind: journal.Briefing, Operation: "recordBriefing"}, `
	SELECT b.id, b.check_every_s, (
			SELECT count(*)
			FROM briefing_person x
			WHERE x.centre_id = b.centre_id AND x.briefing_id = b.id) AS people
	FROM briefing b
	WHERE b.centre_id = app_centre() AND b.id = w.id`, briefingSummary.say)
}

// briefingSummary is what the summary of a briefing is made of.
type briefingSummary struct {
	ID          uuid.UUID
	CheckEveryS *int64
	People      int
}

func (b briefingSummary) say() (uuid.UUID, string) {
	agreed := "no interval of gas checks agreed"
	if b.CheckEveryS != nil {
		agreed = "a gas check every " + finding.Lasting(time.Duration(*b.CheckEveryS)*time.Second)
	}
	people := "1 person"
	if b.People != 1 {
		people = fmt.Sprintf("%d people", b.People)
	}
	return b.ID, fmt.Sprintf("Briefing of %s, %s.", people, agreed)
}
