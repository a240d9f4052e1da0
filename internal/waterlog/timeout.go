package waterlog

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
	"tankside/internal/watercheck"
)

// TimeOut is one person's end of a dive.
type TimeOut struct {
	ID          uuid.UUID      `json:"ID"`
	StartID     uuid.UUID      `json:"StartID"` // the time in that it ends
	OutAt       time.Time      `json:"OutAt"`
	Depth       *units.Reading `json:"Depth"` // the greatest
	End         *units.Reading `json:"End"`
	WitnessedBy *uuid.UUID     `json:"WitnessedBy"`
}

// Times implements journal.Item.
func (t *TimeOut) Times() []*time.Time { return []*time.Time{&t.OutAt} }

// Digest implements journal.Item.
func (t TimeOut) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, t}) }

// Names implements journal.Item.
func (t TimeOut) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AnEntry, &t.StartID),
		journal.Named(journal.APerson, t.WitnessedBy))
}

type timeOutRow struct {
	ID      uuid.UUID      `json:"id"`
	StartID uuid.UUID      `json:"time_in_id"`
	Depth   *units.Reading `json:"depth"`
	End     *units.Reading `json:"end_pressure"`
}

const insertTimesOut = `
	INSERT INTO time_out (centre_id, id, time_in_id, depth, end_pressure)
	SELECT app_centre(), x.*
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, time_in_id uuid, depth depth, end_pressure pressure)`

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
	asked := watercheck.MentionsOf(ends, func(t TimeOut) (uuid.UUID, *uuid.UUID) { return t.ID, t.WitnessedBy })
	d, err := s.check.ReadDive(ctx, tx, dive, asked)
	if err != nil {
		return nil, err
	}
	b, err := collect(d.Snapshot, dive, ends, func(t TimeOut) uuid.UUID { return t.ID },
		func(t TimeOut, at string) (journal.Entry, timeOutRow, error) {
			return timeOutEntry(d, by, tx.Now, t, at)
		})
	if err != nil {
		return nil, err
	}
	return journal.InSession(d.Session.ID, b.results), b.write(ctx, by, tx, insertTimesOut)
}

func timeOutEntry(d watercheck.DiveSnapshot, by actor.Actor, now time.Time, t TimeOut,
	at string) (e journal.Entry, row timeOutRow, err error) {
	start := d.TimeInOf(t.StartID)
	if start == nil {
		return e, row, fault.UnknownReference("time in of this dive that stands", at+"/time_in_id")
	}
	p, err := d.Participant(start.ParticipantID, at+"/time_in_id")
	if err != nil {
		return e, row, err
	}
	if err := gaswatch.CheckPressure(t.End, start.Rating, at+"/end_pressure"); err != nil {
		return e, row, err
	}
	saw, err := d.Witness(by, now, watercheck.Sighting{By: t.WitnessedBy, At: t.OutAt, Member: "out_at"}, at)
	if err != nil {
		return e, row, err
	}
	found := append(d.JudgeEnd(p, *start, t.OutAt, t.End), d.JudgeSite(p, t.Depth)...)
	taught := append(d.JudgeTaught(p, *start, t.OutAt, t.Depth), d.JudgeBooks(p, t.Depth)...)
	if len(p.Said) == 0 {
		found = append(found, taught...)
	}
	e = d.Entry(journal.TimeOut, p, saw, t.OutAt, found)
	if len(p.Said) > 0 { // found on reading
		e.Also = append(e.Also, taught...)
	}
	if start.EndID != nil {
		e.Also = append(e.Also, d.OutTwice(p, *start.EndID, *start.OutAt))
	}
	start.EndID, start.OutAt = &t.ID, &t.OutAt // should the same call end it again
	row = timeOutRow{ID: t.ID, StartID: t.StartID, Depth: t.Depth, End: t.End}
	return e, row, nil
}

// outSummary is a time out.
type outSummary struct {
	ID          uuid.UUID
	Name        string
	Number      *int
	EndPressure *units.Reading
	Depth       *units.Reading
}

func (d outSummary) say() (uuid.UUID, string) {
	return d.ID, d.Name + ": out of the water" +
		onDiveNumber(" after", d.Number) + at(" with ", d.EndPressure) +
		at(", greatest depth ", d.Depth) + "."
}

// TimeOutKind returns the kind of times out.
func (s *Service) TimeOutKind() journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.TimeOut,
		Operation: "recordTimesOut", Member: "Out"}, s.EnterTimesOut), `
	SELECT z.id, n.name, v.number, z.end_pressure, z.depth
	FROM time_out z
	JOIN time_in d ON d.centre_id = z.centre_id AND d.id = z.time_in_id`+ofParticipant+`
	WHERE z.centre_id = app_centre() AND z.id = w.id`, outSummary.say)
}
