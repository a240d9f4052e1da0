package training

import (
	"context"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// LogTimesOut records who came out.
func (s *Service) LogTimesOut(ctx context.Context, by actor.Actor, dive uuid.UUID,
	ends []TimeOut) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.EnterTimesOut(ctx, by, tx, dive, ends)
		return err
	})
	return out, err
}

// EnterTimesOut is LogTimesOut in the caller's transaction.
func (s *Service) EnterTimesOut(ctx context.Context, by actor.Actor, tx *pg.Tx, dive uuid.UUID,
	ends []TimeOut) ([]journal.Result, error) {
	asked := ask(ends, func(t TimeOut) (uuid.UUID, *uuid.UUID) { return t.ID, t.WitnessedBy })
	d, err := s.readDive(ctx, tx, dive, asked)
	if err != nil {
		return nil, err
	}
	b, err := collect(d.stage, dive, ends, func(t TimeOut) uuid.UUID { return t.ID },
		func(t TimeOut, at string) (journal.Entry, timeOutRow, error) {
			return d.timeOut(by, tx.Now, t, at)
		})
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertTimesOut)
}

func (d diving) timeOut(by actor.Actor, now time.Time, t TimeOut,
	at string) (e journal.Entry, row timeOutRow, err error) {
	start := d.timeInOf(t.StartID)
	if start == nil {
		return e, row, fault.UnknownReference("time in of this dive that stands", at+"/time_in_id")
	}
	p, err := d.participant(start.ParticipantID, at+"/time_in_id")
	if err != nil {
		return e, row, err
	}
	if err := checkPressure(t.End, start.Rating(), at+"/end_pressure"); err != nil {
		return e, row, err
	}
	saw, err := d.witness(by, now, sighting{t.WitnessedBy, t.OutAt, "out_at"}, at)
	if err != nil {
		return e, row, err
	}
	found := append(d.judgeEnd(p, *start, t), d.judgeSite(p, t.Depth)...)
	taught := append(d.judgeTaught(p, *start, t.OutAt, t.Depth), d.judgeBooks(p, t.Depth)...)
	if len(p.Said) == 0 {
		found = append(found, taught...)
	}
	e = d.entry(journal.DiveEnd, p, saw, t.OutAt, found)
	if len(p.Said) > 0 { // found on reading
		e.Also = append(e.Also, taught...)
	}
	if start.EndID != nil {
		e.Also = append(e.Also, d.outAlready(p, *start.EndID, *start.OutAt))
	}
	start.EndID, start.OutAt = &t.ID, &t.OutAt // should the same call end it again
	row = timeOutRow{ID: t.ID, StartID: t.StartID, DepthValue: value(t.Depth), DepthUnit: unit(t.Depth),
		EndValue: value(t.End), EndUnit: unit(t.End)}
	return e, row, nil
}

// timeInOf returns a time in of this dive, nil when none of that id stands.
func (d diving) timeInOf(id uuid.UUID) *LoggedDive {
	for i := range d.log {
		if d.log[i].StartID == id && d.log[i].DiveID == d.dive.ID {
			return &d.log[i]
		}
	}
	return nil
}

// leastEnd is what a dive ends with at least: training organisations' manuals
// say 50 bar or 500 to 700 psi (seen).
var leastEnd = map[units.Unit]units.Reading{units.UnitBar: units.Read(50, units.UnitBar),
	units.UnitPSI: units.Read(700, units.UnitPSI)}

// judgeEnd holds the end of a dive against its beginning and the least pressure.
func (d diving) judgeEnd(p part, start LoggedDive, t TimeOut) finding.List {
	var found finding.List
	if !t.OutAt.After(start.InAt) {
		found = append(found, OutBeforeIn.Say("{person} came out at {out_at} and went in at {in_at}.",
			p.named(), d.session.clock(t.OutAt), d.session.clock(start.InAt)).
			About(p.subject()))
	}
	if t.End == nil {
		return found
	}
	if least := leastEnd[t.End.Unit]; t.End.Compare(least) < 0 {
		f := EndPressure.Say("{person} ended the dive with {end}.", p.named(), t.End).About(p.subject())
		f.Limit, f.Found = finding.Quantity(least), finding.Quantity(*t.End)
		f.Cures = []finding.Cure{{Code: "plan_anew",
			Message: "Plan the next dive with a higher turn pressure or a shorter time."}}
		found = append(found, f)
	}
	if began := start.Start(); began != nil && t.End.Compare(*began) > 0 {
		f := EndAboveStart.Say("{person} ended the dive with {end} and began it with {start}.", p.named(),
			t.End, began).About(p.subject())
		f.Limit, f.Found = finding.Quantity(*began), finding.Quantity(*t.End)
		f.Cures = []finding.Cure{{Code: "void_wrong",
			Message: "Void the entry that is wrong and record it again."}}
		found = append(found, f)
	}
	return found
}

// judgeSite holds the greatest depth against the site's.
func (d diving) judgeSite(p part, depth *units.Reading) finding.List {
	site := units.Reading(d.session.siteMax())
	if depth == nil || site.IsZero() || depth.Compare(site) <= 0 {
		return nil
	}
	return finding.List{beyond(BeyondSite, p, *depth, site, "the site's greatest depth is")}
}

// judgeTaught holds the dive of a student against the syllabus: a training dive
// by syllabus.JudgeDive, another by its greatest depth alone.
func (d diving) judgeTaught(p part, start LoggedDive, out time.Time, depth *units.Reading) finding.List {
	if p.EnrolmentID == nil {
		return nil
	}
	y := d.lessons.of(*p.EnrolmentID)
	if d.session.Kind == syllabus.Open && d.number() > 0 {
		_, found := syllabus.JudgeDive(y,
			diveDone(d.session, d.number(), p.age(d.session), start.StartID, start.InAt, &out, depth))
		return found
	}
	limit, why := units.Reading(y.ConfinedMaxDepth), "in confined water the syllabus goes to"
	if d.session.Kind == syllabus.Open {
		limit, why = units.Reading(syllabus.DepthLimit(y, 0, p.age(d.session),
			syllabus.Quantity{}).Depth), "on no training dive the strictest limit of the syllabus counts,"
	}
	if depth == nil || limit.IsZero() || depth.Compare(limit) <= 0 {
		return nil
	}
	return finding.List{beyond(syllabus.DiveBeyondLimit, p, *depth, limit, why)}
}

func beyond(r finding.Rule, p part, depth, limit units.Reading, why string) finding.Finding {
	f := r.Say("{person} was at {depth}; {why} {limit}.", p.named(), depth, why, limit).About(p.subject())
	f.Limit, f.Found = finding.Quantity(limit), finding.Quantity(depth)
	return f
}

// diveDone makes a dive of a student as the syllabus knows it.
func diveDone(s session, number int, age syllabus.Years, id uuid.UUID, in time.Time, out *time.Time,
	depth *units.Reading) syllabus.DiveDone {
	d := syllabus.DiveDone{ID: id.String(), Number: number, Age: age, On: s.day()}
	if depth != nil {
		d.Depth = syllabus.Quantity(*depth)
	}
	if out != nil && out.After(in) {
		d.Duration = syllabus.QuantityOf(out.Sub(in).Minutes(), units.UnitMinute)
	}
	return d
}
