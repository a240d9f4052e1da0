package watercheck

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// At is what speaks against a time in that other features know: whether the group was
// within its ratio then, nil in no group; and what of papers, fitness and what the
// briefing told.
type At struct {
	Cleared *bool
	Unready finding.List
}

// recorded is a session as all of its entries are judged beside one another.
type recorded struct {
	DiveSnapshot
	seen   []waterview.Entry
	doubts map[uuid.UUID]finding.List // about readings of gauges, by entry
}

// FoundOfEntries returns what is found of the entries of a session that stand, times in
// excepted, beside what is stored with them. Fault: not_found.
func (c *Checker) FoundOfEntries(ctx context.Context, tx *pg.Tx,
	session uuid.UUID) (map[uuid.UUID]finding.List, error) {
	v, err := dayview.One(ctx, tx, session, dayview.Everything)
	if err != nil {
		return nil, err
	}
	r, err := c.readRecorded(ctx, tx, v)
	if err != nil {
		return nil, err
	}
	return r.found(), nil
}

// Found returns what is found of each entry of a session that stands, beside what is
// stored with it. The session was read with everything. against has, by entry, what other
// features know against times in.
func (c *Checker) Found(ctx context.Context, tx *pg.Tx, v dayview.View,
	against map[uuid.UUID]At) (map[uuid.UUID]finding.List, error) {
	r, err := c.readRecorded(ctx, tx, v)
	if err != nil {
		return nil, err
	}
	out := r.found()
	if len(r.Log) == 0 {
		return out, nil
	}
	learned, err := c.standings.Read(ctx, tx, r.enrolments())
	if err != nil {
		return nil, err
	}
	for id, found := range r.foundOfTimesIn(learned, against) {
		out[id] = append(out[id], found...)
	}
	return out, nil
}

// readRecorded reads the entries of a session that was read with everything.
func (c *Checker) readRecorded(ctx context.Context, tx *pg.Tx, v dayview.View) (r recorded, err error) {
	var b pgx.Batch
	var f facts
	f.queue(&b, v.ID, Mentions{})
	waterview.QueueEntries(&b, &r.seen, v.ID)
	waterview.QueueDives(&b, &r.Log, v.ID)
	if err := tx.Send(ctx, &b); err != nil {
		return r, err
	}
	r.Snapshot = newSnapshot(v, f)
	if err := r.judge(ctx, tx, c.standings); err != nil {
		return r, err
	}
	gauges := gaswatch.Gauges{Dives: r.Log}
	for _, e := range r.seen {
		if e.Kind == journal.GasCheck {
			gauges.Checks = append(gauges.Checks, e.GasCheck())
		}
	}
	r.doubts, err = c.watch.Doubts(ctx, tx, v, gauges, func(uuid.UUID) bool { return true })
	return r, err
}

// enrolments returns those by which people went in.
func (r recorded) enrolments() (out []uuid.UUID) {
	for _, l := range r.Log {
		if l.EnrolmentID != nil {
			out = append(out, *l.EnrolmentID)
		}
	}
	return out
}

// found returns what is found of each entry that is none of a time in.
func (r recorded) found() map[uuid.UUID]finding.List {
	out := make(map[uuid.UUID]finding.List, len(r.seen))
	ended := map[uuid.UUID]waterview.Entry{} // the first time out of each time in
	for _, e := range r.seen {
		p := r.Parts[e.ParticipantID]
		found := r.notHeld(e.Kind, p, e.WitnessedAt)
		switch e.Kind {
		case journal.GasCheck:
			found = append(found, r.doubts[e.ID]...)
			if e.Simulated {
				break
			}
			found = append(found, JudgeRating(p, e.Reading,
				waterview.RatingOf(r.Log, p.ID))...)
		case journal.TimeOut:
			if first, twice := ended[*e.TimeInID]; twice {
				found = append(found, r.OutTwice(p, first.ID, first.WitnessedAt))
			} else {
				ended[*e.TimeInID] = e
			}
			if len(p.Said) > 0 {
				found = append(found, r.ofDive(p, e)...)
			}
		}
		out[e.ID] = found
	}
	return out
}

// ofDive returns what the syllabus and the rule books say to the dive that a time
// out ended.
func (d DiveSnapshot) ofDive(p Participant, end waterview.Entry) finding.List {
	i := slices.IndexFunc(d.Log, func(l waterview.Dive) bool { return l.StartID == *end.TimeInID })
	if i < 0 {
		return nil // its time in was voided
	}
	d.Dive = d.planned(d.Log[i].DiveID)
	depth := end.Depth
	return append(d.JudgeTaught(p, d.Log[i], end.WitnessedAt, depth), d.JudgeBooks(p, depth)...)
}

// foundOfTimesIn returns what is found of the times in, by entry: each beside what was
// recorded before it, what the student had learned, and what other features know.
func (r recorded) foundOfTimesIn(learned map[uuid.UUID]*standing.Enrolment,
	against map[uuid.UUID]At) map[uuid.UUID]finding.List {
	out := make(map[uuid.UUID]finding.List, len(r.Log))
	for i, l := range r.Log {
		p, now := r.Parts[l.ParticipantID], r.DiveSnapshot
		now.Dive, now.Log = r.planned(l.DiveID), r.Log[:i]
		found := slices.Concat(now.JudgeBriefing(p, l.InAt), now.JudgeInTwice(p, l.InAt))
		found = append(found, now.JudgeTeam(onDive(r.Log, l.DiveID), Teamed{p.ID, l.Team})...)
		if a, ok := against[l.StartID]; ok {
			p.Cleared = a.Cleared
			found = append(append(found, JudgeGroup(p)...), a.Unready...)
		}
		if l.EnrolmentID != nil {
			e := *learned[*l.EnrolmentID]
			then := *e.Standing
			then.Dives = now.before(then.Dives, r.Log)
			e.Standing = &then
			found = append(found, now.JudgePrerequisites(e, p)...)
		}
		out[l.StartID] = found
	}
	return out
}

// onDive returns the buddy teams of everybody who went in on a dive.
func onDive(log []waterview.Dive, dive uuid.UUID) (out []Teamed) {
	for _, l := range log {
		if l.DiveID == dive {
			out = append(out, Teamed{l.ParticipantID, l.Team})
		}
	}
	return out
}

// planned returns a planned dive of the session.
func (st Snapshot) planned(id uuid.UUID) dayview.Dive {
	for _, x := range st.dives {
		if x.ID == id {
			return x
		}
	}
	return dayview.Dive{ID: id}
}

// JudgeRating points out a reading of more than one and a half times the rating
// of the cylinder. It refuses nothing: the time in that gives the rating may
// come later, or a batch brings both.
func JudgeRating(p Participant, reading, rating *units.Reading) finding.List {
	if reading == nil || rating == nil || reading.Pressure() <= gas.MostOfRating*rating.Pressure() {
		return nil
	}
	f := AboveRating.Say("{person} read {reading} on a cylinder rated {rated}. Check the unit.", p.named(),
		reading, rating).About(p.subject())
	f.Limit, f.Found = finding.Quantity(*rating), finding.Quantity(*reading)
	f.Cures = []finding.Cure{{Code: "void_wrong", Message: "Void the entry that is wrong and record it again."}}
	return finding.List{f}
}

// OutTwice returns the finding that a participant had come out already, by an entry.
func (d DiveSnapshot) OutTwice(p Participant, end uuid.UUID, at time.Time) finding.Finding {
	return OutAlready.Say("{person} came out of this dive already at {out_at}.", p.named(),
		d.Session.Clock(at)).
		About(p.subject(), finding.Subject{Type: "entry", ID: end.String()})
}

// before leaves out, of the dives that a student did, those that began later
// than the ones of this session that the log has.
func (d DiveSnapshot) before(dives []syllabus.DiveDone, all []waterview.Dive) []syllabus.DiveDone {
	later := map[string]bool{}
	for _, l := range all[len(d.Log):] {
		later[l.StartID.String()] = true
	}
	out := make([]syllabus.DiveDone, 0, len(dives))
	for _, x := range dives {
		if !later[x.ID] && x.On <= d.Session.Day() {
			out = append(out, x)
		}
	}
	return out
}

// Decorate adds what is found of entries on reading to what is stored with them.
func Decorate[T any](list []T, found map[uuid.UUID]finding.List, head func(*T) *journal.Head) {
	for i := range list {
		h := head(&list[i])
		h.Findings = append(h.Findings, found[h.ID]...)
	}
}

// DecorateDives is Decorate for dives, whose times in and out are two entries.
func DecorateDives(log []waterview.Dive, found map[uuid.UUID]finding.List) {
	for i := range log {
		log[i].Findings = append(log[i].Findings, found[log[i].StartID]...)
		if log[i].EndID != nil {
			log[i].EndFindings = append(log[i].EndFindings, found[*log[i].EndID]...)
		}
	}
}
