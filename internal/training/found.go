package training

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/dayview"
	"tankside/internal/finding"
	"tankside/internal/gas"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// With an entry stands only what is found of its own words. What is found of it
// beside other facts of the session, such as a second time in or a roll call
// that says otherwise, depends on what else is known: it is said in the answer
// and found anew whenever the entry is read, from facts in the order in which
// they were witnessed. So it does not matter in which order they arrived.

// InWater is somebody's time in.
type InWater struct {
	EntryID       uuid.UUID
	DiveID        uuid.UUID
	ParticipantID uuid.UUID
	At            time.Time
}

// Against is what speaks against a time in that training does not know.
type Against struct {
	Cleared *bool        // whether the group was within its ratio then; nil: in no group
	Unready finding.List // of papers, fitness and what the briefing told
}

// seenRow is an entry of a session that stands, as it is found of.
type seenRow struct {
	ID            uuid.UUID
	Kind          journal.Kind
	ParticipantID uuid.UUID
	WitnessedAt   time.Time
	ReadingValue  *float64
	ReadingUnit   *string
	DiveStartID   *uuid.UUID
	DepthValue    *float64 // of a time out
	DepthUnit     *string
	Simulated     bool // of a gas check
	DiveID        *uuid.UUID
	CheckedValue  *float64 // depth of a gas check
	CheckedUnit   *string
}

const seenSQL = `
	SELECT e.id, e.kind, e.participant_id, e.witnessed_at, g.reading_value, g.reading_unit, x.dive_start_id, x.depth_value,
		x.depth_unit, COALESCE(g.simulated, false) AS simulated, g.dive_id, g.depth_value AS checked_value,
		g.depth_unit AS checked_unit` + ofSession + `
	LEFT JOIN LATERAL (
		SELECT *
		FROM gas_check g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g ON e.kind = 'gas_check'
	LEFT JOIN LATERAL (
		SELECT *
		FROM dive_end x
		WHERE x.centre_id = e.centre_id AND x.id BETWEEN e.id AND e.id
		ORDER BY x.id) x ON e.kind = 'dive_end'
	WHERE e.voided_at IS NULL
		AND e.kind IN ('gas_check', 'gas_response', 'drill_attempt', 'dive_start', 'dive_end')
	ORDER BY e.witnessed_at, e.id`

// Found returns what is found of each entry of a session that stands, beside what
// is stored with it.
func (s *Service) Found(ctx context.Context, tx *pg.Tx, session uuid.UUID) (map[uuid.UUID]finding.List, error) {
	v, err := dayview.One(ctx, tx, session, dayview.Everything)
	if err != nil {
		return nil, err
	}
	return s.FoundIn(ctx, tx, v)
}

// FoundIn is Found for a session that was read with everything.
func (s *Service) FoundIn(ctx context.Context, tx *pg.Tx, v dayview.View) (map[uuid.UUID]finding.List, error) {
	var seen []seenRow
	var b pgx.Batch
	var f facts
	d := diving{}
	args := pgx.StrictNamedArgs{"session": v.ID}
	f.queue(&b, v.ID, asked{})
	pg.QueueRows(&b, &seen, seenSQL, args)
	pg.QueueRows(&b, &d.log, loggedSQL, args)
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	d.stage = newStage(v, f)
	if err := d.judge(ctx, tx, s); err != nil {
		return nil, err
	}
	gauges := &water{log: d.log}
	gauges.meet(d.stage, func(part) bool { return true })
	for i, e := range seen {
		if e.Kind == journal.GasCheck {
			gauges.checks = append(gauges.checks,
				GasCheckLogged{Head: journal.Head{ID: e.ID, ParticipantID: &seen[i].ParticipantID,
					WitnessedAt: e.WitnessedAt},
					DiveID: e.DiveID, DepthValue: e.CheckedValue, DepthUnit: e.CheckedUnit, ReadingValue: e.ReadingValue, ReadingUnit: e.ReadingUnit, Simulated: e.Simulated})
		}
	}
	if err := s.doubtGauges(ctx, tx, gauges); err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]finding.List, len(seen))
	ended := map[uuid.UUID]seenRow{} // the first time out of each time in
	for _, e := range seen {
		p := d.parts[e.ParticipantID]
		found := d.notHeld(e.Kind, p, e.WitnessedAt)
		switch e.Kind {
		case journal.GasCheck:
			found = append(found, gauges.doubts[e.ID]...)
			if e.Simulated {
				break
			}
			found = append(found, aboveRating(p, pg.Reading(e.ReadingValue, e.ReadingUnit),
				ratingOf(d.log, p.ID))...)
		case journal.DiveEnd:
			if first, twice := ended[*e.DiveStartID]; twice {
				found = append(found, d.outAlready(p, first.ID, first.WitnessedAt))
			} else {
				ended[*e.DiveStartID] = e
			}
			if len(p.Said) > 0 {
				found = append(found, d.ofDive(p, e)...)
			}
		}
		out[e.ID] = found
	}
	return out, s.foundOfTimesIn(ctx, tx, d, v, out)
}

// ofDive returns what the syllabus and the rule books say to the dive that a time
// out ended.
func (d diving) ofDive(p part, end seenRow) finding.List {
	i := slices.IndexFunc(d.log, func(l LoggedDive) bool { return l.StartID == *end.DiveStartID })
	if i < 0 {
		return nil // its time in was voided
	}
	d.dive = d.planned(d.log[i].DiveID)
	depth := pg.Reading(end.DepthValue, end.DepthUnit)
	return append(d.judgeTaught(p, d.log[i], end.WitnessedAt, depth), d.judgeBooks(p, depth)...)
}

// foundOfTimesIn adds what is found of the times in of a session.
func (s *Service) foundOfTimesIn(ctx context.Context, tx *pg.Tx, d diving, v dayview.View,
	out map[uuid.UUID]finding.List) error {
	if len(d.log) == 0 {
		return nil
	}
	var enrolments []uuid.UUID
	in := make([]InWater, len(d.log))
	for i, l := range d.log {
		in[i] = InWater{l.StartID, l.DiveID, l.ParticipantID, l.InAt}
		if l.EnrolmentID != nil {
			enrolments = append(enrolments, *l.EnrolmentID)
		}
	}
	learned, err := s.standings(ctx, tx, enrolments)
	if err != nil {
		return err
	}
	against, err := s.judges.TimesIn(ctx, tx, v, in)
	if err != nil {
		return err
	}
	for i, l := range d.log {
		p, now := d.parts[l.ParticipantID], d
		now.dive, now.log = d.planned(l.DiveID), d.log[:i]
		found := slices.Concat(out[l.StartID], now.notBriefed(p, l.InAt), now.inAlready(p, l.InAt))
		found = append(found, now.teamOf(onDive(d.log, l.DiveID), TimeIn{ParticipantID: p.ID, Team: l.Team})...)
		if a, ok := against[l.StartID]; ok {
			p.Cleared = a.Cleared
			found = append(append(found, mayBeIn(p)...), a.Unready...)
		}
		if l.EnrolmentID != nil {
			e := *learned[*l.EnrolmentID]
			then := *e.Standing
			then.Dives = now.before(then.Dives, d.log)
			e.Standing = &then
			found = append(found, now.mayEnter(e, p)...)
		}
		out[l.StartID] = found
	}
	return nil
}

// onDive returns everybody who went in on a dive.
func onDive(log []LoggedDive, dive uuid.UUID) (out []TimeIn) {
	for _, l := range log {
		if l.DiveID == dive {
			out = append(out, TimeIn{ParticipantID: l.ParticipantID, Team: l.Team})
		}
	}
	return out
}

// planned returns a planned dive of the session.
func (st stage) planned(id uuid.UUID) Dive {
	for _, x := range st.dives {
		if x.ID == id {
			return x
		}
	}
	return Dive{ID: id}
}

// ratingOf returns the highest rating of the cylinders with which somebody went
// in, nil when none is known.
func ratingOf(log []LoggedDive, participant uuid.UUID) (most *units.Reading) {
	for _, l := range log {
		if r := l.Rating(); l.ParticipantID == participant && r != nil &&
			(most == nil || r.Compare(*most) > 0) {
			most = r
		}
	}
	return most
}

// aboveRating points out a reading of more than one and a half times the rating
// of the cylinder. It refuses nothing: the time in that gives the rating may
// come later, or a batch brings both.
func aboveRating(p part, reading, rating *units.Reading) finding.List {
	if reading == nil || rating == nil || reading.Pressure() <= gas.MostOfRating*rating.Pressure() {
		return nil
	}
	f := AboveRating.Say("{person} read {reading} on a cylinder rated {rated}. Check the unit.", p.named(),
		reading, rating).About(p.subject())
	f.Limit, f.Found = finding.Quantity(*rating), finding.Quantity(*reading)
	f.Cures = []finding.Cure{{Code: "void_wrong", Message: "Void the entry that is wrong and record it again."}}
	return finding.List{f}
}

func (d diving) outAlready(p part, end uuid.UUID, at time.Time) finding.Finding {
	return OutAlready.Say("{person} came out of this dive already at {out_at}.", p.named(),
		d.session.clock(at)).
		About(p.subject(), finding.Subject{Type: "entry", ID: end.String()})
}

// before leaves out, of the dives that a student did, those that began later
// than the ones of this session that the log has.
func (d diving) before(dives []syllabus.DiveDone, all []LoggedDive) []syllabus.DiveDone {
	later := map[string]bool{}
	for _, l := range all[len(d.log):] {
		later[l.StartID.String()] = true
	}
	out := make([]syllabus.DiveDone, 0, len(dives))
	for _, x := range dives {
		if !later[x.ID] && x.On <= d.session.day() {
			out = append(out, x)
		}
	}
	return out
}

// decorate adds what is found of entries on reading to what is stored with them.
func decorate[T any](list []T, found map[uuid.UUID]finding.List, head func(*T) *journal.Head) {
	for i := range list {
		h := head(&list[i])
		h.Findings = append(h.Findings, found[h.ID]...)
	}
}

func decorateDives(log []LoggedDive, found map[uuid.UUID]finding.List) {
	for i := range log {
		log[i].Findings = append(log[i].Findings, found[log[i].StartID]...)
		if log[i].EndID != nil {
			log[i].EndFindings = append(log[i].EndFindings, found[*log[i].EndID]...)
		}
	}
}
