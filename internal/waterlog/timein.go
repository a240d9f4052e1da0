package waterlog

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
)

// TimeIn is one person's start of a dive.
type TimeIn struct {
	ID            uuid.UUID      `json:"ID"`
	ParticipantID uuid.UUID      `json:"ParticipantID"`
	InAt          time.Time      `json:"InAt"`
	Team          *string        `json:"Team"`          // the buddy team's name within the dive
	Size          *units.Reading `json:"Size"`          // of the cylinder, in water or as rated gas
	Rating        *units.Reading `json:"Rating"`        // of the cylinder
	OxygenPercent *float64       `json:"OxygenPercent"` // 21 for air when not said
	Start         *units.Reading `json:"Start"`
	WitnessedBy   *uuid.UUID     `json:"WitnessedBy"`
}

// Times implements journal.Item.
func (t *TimeIn) Times() []*time.Time { return []*time.Time{&t.InAt} }

// Digest implements journal.Item.
func (t TimeIn) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, t}) }

// Names implements journal.Item.
func (t TimeIn) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AParticipant, &t.ParticipantID),
		journal.Named(journal.APerson, t.WitnessedBy))
}

type timeInRow struct {
	ID            uuid.UUID      `json:"id"`
	DiveID        uuid.UUID      `json:"dive_id"`
	ParticipantID uuid.UUID      `json:"participant_id"`
	Team          *string        `json:"team"`
	Size          *units.Reading `json:"size"`
	Rating        *units.Reading `json:"rating"`
	OxygenPercent *float64       `json:"oxygen_percent"`
	Start         *units.Reading `json:"start_pressure"`
}

const insertTimesIn = `
	INSERT INTO time_in (centre_id, id, dive_id, participant_id, team, size, rating, oxygen_percent,
		start_pressure)
	SELECT app_centre(), x.*
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, dive_id uuid, participant_id uuid, team text,
		size volume, rating pressure, oxygen_percent numeric, start_pressure pressure)`

// Unready has, by participant, what speaks against somebody being in the water
// today that training does not know: papers, fitness and what the briefing told.
type Unready map[uuid.UUID]finding.List

// EnterTimesIn records who went in on a dive of a session that was read with its people,
// its roll calls and what was told and taught. unready has what speaks against it that training does
// not know. A time in is never refused by a rule.
func (s *Service) EnterTimesIn(ctx context.Context, by actor.Actor, tx *pg.Tx, v dayview.View, dive uuid.UUID,
	in []TimeIn,
	unready Unready) ([]journal.Result, error) {
	d, err := s.check.DiveIn(ctx, tx, v, dive,
		watercheck.MentionsOf(in, func(t TimeIn) (uuid.UUID, *uuid.UUID) { return t.ID, t.WitnessedBy }))
	if err != nil {
		return nil, err
	}
	learned, err := s.standings.Read(ctx, tx, enrolmentsOf(d, in))
	if err != nil {
		return nil, err
	}
	b, err := collect(d.Snapshot, dive, in, func(t TimeIn) uuid.UUID { return t.ID },
		func(t TimeIn, at string) (journal.Entry, timeInRow, error) {
			e, row, err := timeInEntry(d, by, tx.Now, t, at)
			if err != nil {
				return e, row, err
			}
			p := d.Parts[t.ParticipantID]
			e.Also = append(e.Also, unready[p.ID]...)
			e.Also = append(e.Also, d.JudgeTeam(teamsOf(in),
				watercheck.Teamed{Participant: t.ParticipantID, Team: t.Team})...)
			if p.EnrolmentID != nil {
				e.Also = append(e.Also, d.JudgePrerequisites(*learned[*p.EnrolmentID], p)...)
			}
			d.Log = append(d.Log, waterview.Dive{StartID: t.ID, DiveID: dive, ParticipantID: p.ID, InAt: t.InAt,
				Team: t.Team})
			return e, row, nil
		})
	if err != nil {
		return nil, err
	}
	return journal.InSession(d.Session.ID, b.results), b.write(ctx, by, tx, insertTimesIn)
}

// teamsOf returns the buddy teams of times in.
func teamsOf(in []TimeIn) []watercheck.Teamed {
	out := make([]watercheck.Teamed, len(in))
	for i, t := range in {
		out[i] = watercheck.Teamed{Participant: t.ParticipantID, Team: t.Team}
	}
	return out
}

// enrolmentsOf returns the enrolments by which people go in.
func enrolmentsOf(d watercheck.DiveSnapshot, in []TimeIn) []uuid.UUID {
	out := []uuid.UUID{}
	for _, t := range in {
		if p, ok := d.Parts[t.ParticipantID]; ok && p.EnrolmentID != nil {
			out = append(out, *p.EnrolmentID)
		}
	}
	return out
}

func timeInEntry(d watercheck.DiveSnapshot, by actor.Actor, now time.Time, t TimeIn,
	at string) (e journal.Entry, row timeInRow, err error) {
	p, err := d.Participant(t.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if t.Rating != nil && t.Rating.Value <= 0 {
		return e, row, fault.Invalid(at+"/cylinder_rating",
			"{rating} is no cylinder's rating.", t.Rating)
	}
	if err := gaswatch.CheckPressure(t.Rating, nil, at+"/cylinder_rating"); err != nil {
		return e, row, err
	}
	if err := gaswatch.CheckPressure(t.Start, t.Rating, at+"/start_pressure"); err != nil {
		return e, row, err
	}
	saw, err := d.Witness(by, now, watercheck.Sighting{By: t.WitnessedBy, At: t.InAt, Member: "in_at"}, at)
	if err != nil {
		return e, row, err
	}
	row = timeInRow{ID: t.ID, DiveID: d.Dive.ID, ParticipantID: p.ID, Team: t.Team, Size: t.Size,
		Rating: t.Rating, OxygenPercent: t.OxygenPercent, Start: t.Start}
	e = d.Entry(journal.TimeIn, p, saw, t.InAt,
		signal.JudgeStart(gaswatch.AgreedIn(d.View).Marks(p.ID, p.GaugeUnit, &d.Dive.ID), t.Start))
	e.Also = slices.Concat(e.Also, watercheck.JudgeGroup(p), d.JudgeBriefing(p, t.InAt), d.JudgeInTwice(p, t.InAt))
	return e, row, nil
}

// inSummary is a time in.
type inSummary struct {
	ID            uuid.UUID
	Name          string
	Number        *int
	StartPressure *units.Reading
}

func (d inSummary) say() (uuid.UUID, string) {
	return d.ID, d.Name + ": in the water" + onDiveNumber(" on", d.Number) + at(" with ", d.StartPressure) + "."
}

// TimeInKind returns the kind of times in, which enter records with what other features know against them.
func (s *Service) TimeInKind(enter func(ctx context.Context, by actor.Actor, tx *pg.Tx, dive uuid.UUID,
	in []TimeIn) ([]journal.Result, error)) journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.TimeIn,
		Operation: "recordTimesIn", Member: "In"}, enter), `
	SELECT d.id, n.name, v.number, d.start_pressure
	FROM time_in d`+ofParticipant+thisOne, inSummary.say)
}
