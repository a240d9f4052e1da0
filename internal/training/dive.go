package training

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

// Dive is a planned dive of a session.
type Dive struct {
	ID           uuid.UUID
	Number       int
	TrainingDive *int
}

func divesOf(ctx context.Context, tx *pg.Tx, session uuid.UUID) ([]Dive, error) {
	return pg.Many[Dive](ctx, tx, `SELECT id, number, training_dive FROM sessions_dive WHERE centre_id = app_centre() AND session_id = @session ORDER BY number`,
		pgx.StrictNamedArgs{"session": session})
}

// TimeIn is one person's start of a dive.
type TimeIn struct {
	ID            uuid.UUID
	ParticipantID uuid.UUID
	InAt          time.Time
	Team          *string        // the buddy team's name within the dive
	Size          *units.Reading // of the cylinder, in water or as rated gas
	Rating        *units.Reading // of the cylinder
	OxygenPercent *float64       // 21 for air when not said
	Start         *units.Reading
	WitnessedBy   *uuid.UUID
}

// TimeOut is one person's end of a dive.
type TimeOut struct {
	ID          uuid.UUID
	StartID     uuid.UUID // the time in that it ends
	OutAt       time.Time
	Depth       *units.Reading // the greatest
	End         *units.Reading
	WitnessedBy *uuid.UUID
}

type timeInRow struct {
	ID            uuid.UUID `json:"id"`
	DiveID        uuid.UUID `json:"dive_id"`
	ParticipantID uuid.UUID `json:"participant_id"`
	Team          *string   `json:"team"`
	SizeValue     *float64  `json:"size_value"`
	SizeUnit      *string   `json:"size_unit"`
	RatingValue   *float64  `json:"rating_value"`
	RatingUnit    *string   `json:"rating_unit"`
	OxygenPercent *float64  `json:"oxygen_percent"`
	StartValue    *float64  `json:"start_value"`
	StartUnit     *string   `json:"start_unit"`
}

const insertTimesIn = `INSERT INTO dive_start (centre_id, id, dive_id, participant_id, team, size_value, size_unit, rating_value, rating_unit, oxygen_percent, start_value, start_unit)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, dive_id uuid, participant_id uuid, team text, size_value numeric, size_unit text,
		rating_value numeric, rating_unit text, oxygen_percent numeric, start_value numeric, start_unit text)`

type timeOutRow struct {
	ID         uuid.UUID `json:"id"`
	StartID    uuid.UUID `json:"dive_start_id"`
	DepthValue *float64  `json:"depth_value"`
	DepthUnit  *string   `json:"depth_unit"`
	EndValue   *float64  `json:"end_value"`
	EndUnit    *string   `json:"end_unit"`
}

const insertTimesOut = `INSERT INTO dive_end (centre_id, id, dive_start_id, depth_value, depth_unit, end_value, end_unit)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, dive_start_id uuid, depth_value numeric, depth_unit text, end_value numeric, end_unit text)`

// Logged is one person's dive as it was recorded; what is not known is nil.
type Logged struct {
	StartID       uuid.UUID
	DiveID        uuid.UUID
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	EnrolmentID   *uuid.UUID
	Name          string
	InAt          time.Time
	Team          *string
	SizeValue     *float64
	SizeUnit      *string
	RatingValue   *float64
	RatingUnit    *string
	OxygenPercent *float64
	StartValue    *float64
	StartUnit     *string
	EndID         *uuid.UUID
	OutAt         *time.Time
	DepthValue    *float64
	DepthUnit     *string
	EndValue      *float64
	EndUnit       *string
	Findings      finding.List
	EndFindings   finding.List
}

// Size gives the size of the cylinder as it was read, nil when it was not; so do
// the methods below for what they are called after.
func (l Logged) Size() *units.Reading { return pg.Reading(l.SizeValue, l.SizeUnit) }

// Rating gives the rating of the cylinder.
func (l Logged) Rating() *units.Reading { return pg.Reading(l.RatingValue, l.RatingUnit) }

// Start gives the pressure at the start.
func (l Logged) Start() *units.Reading { return pg.Reading(l.StartValue, l.StartUnit) }

// Depth gives the greatest depth.
func (l Logged) Depth() *units.Reading { return pg.Reading(l.DepthValue, l.DepthUnit) }

// End gives the pressure at the end.
func (l Logged) End() *units.Reading { return pg.Reading(l.EndValue, l.EndUnit) }

// loggedSQL reads the dives that stand, each with its end if it has one that
// stands.
const loggedSQL = `SELECT b.id AS start_id, b.dive_id, b.participant_id, p.person_id, p.enrolment_id, n.name, e.witnessed_at AS in_at, b.team,
		b.size_value, b.size_unit, b.rating_value, b.rating_unit, b.oxygen_percent, b.start_value, b.start_unit,
		z.id AS end_id, z.witnessed_at AS out_at, z.depth_value, z.depth_unit, z.end_value, z.end_unit, e.findings, COALESCE(z.findings, '[]') AS end_findings
	FROM dive_start b
	JOIN journal_entry e ON e.centre_id = b.centre_id AND e.id = b.id
	JOIN sessions_participant p ON p.centre_id = b.centre_id AND p.id = b.participant_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	LEFT JOIN LATERAL (
		SELECT x.id, h.witnessed_at, x.depth_value, x.depth_unit, x.end_value, x.end_unit, h.findings
		FROM dive_end x JOIN journal_entry h ON h.centre_id = x.centre_id AND h.id = x.id
		WHERE x.centre_id = b.centre_id AND x.dive_start_id = b.id AND h.voided_at IS NULL ORDER BY h.witnessed_at DESC, h.id LIMIT 1) z ON true
	WHERE b.centre_id = app_centre() AND e.voided_at IS NULL AND e.session_id = @session
	ORDER BY e.witnessed_at, b.id`

// DiveLog is a planned dive with what was recorded of it.
type DiveLog struct {
	Dive
	Log []Logged
}

// Dives gives the planned dives of a session with who went in and came out.
func (s *Service) Dives(ctx context.Context, session uuid.UUID) (out []DiveLog, err error) {
	if err := mayRead(ctx); err != nil {
		return nil, err
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findSession(ctx, tx, session); err != nil {
			return err
		}
		dives, err := divesOf(ctx, tx, session)
		if err != nil {
			return err
		}
		log, err := pg.Many[Logged](ctx, tx, loggedSQL, pgx.StrictNamedArgs{"session": session})
		if err != nil {
			return err
		}
		out = make([]DiveLog, len(dives))
		for i, d := range dives {
			out[i].Dive = d
			for _, l := range log {
				if l.DiveID == d.ID {
					out[i].Log = append(out[i].Log, l)
				}
			}
		}
		return nil
	})
	return out, err
}

// ofDive finds the session of a dive.
func ofDive(ctx context.Context, tx *pg.Tx, dive uuid.UUID) (uuid.UUID, error) {
	id, found, err := pg.Maybe[uuid.UUID](ctx, tx, `SELECT session_id FROM sessions_dive WHERE centre_id = app_centre() AND id = @id`, pgx.StrictNamedArgs{"id": dive})
	if err == nil && !found {
		err = fault.Missing("dive")
	}
	return id, err
}

// LogTimesIn records who went in. A time in is never refused by a rule.
func (s *Service) LogTimesIn(ctx context.Context, dive uuid.UUID, in []TimeIn) (out []journal.Result, err error) {
	if err := mayReport(ctx); err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(in))
	for i, t := range in {
		ids[i] = t.ID
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		st, log, err := readDive(ctx, tx, dive, ids)
		if err != nil {
			return err
		}
		b, err := collect(st, in, func(t TimeIn) uuid.UUID { return t.ID }, func(t TimeIn, at string) (journal.Entry, timeInRow, error) {
			return st.timeIn(ctx, tx.Now, dive, log, in, t, at)
		})
		if err != nil {
			return err
		}
		out = b.results
		return b.write(ctx, tx, insertTimesIn)
	})
	return out, err
}

// readDive reads the stage of a dive and what was logged in the session.
func readDive(ctx context.Context, tx *pg.Tx, dive uuid.UUID, ids []uuid.UUID) (stage, []Logged, error) {
	session, err := ofDive(ctx, tx, dive)
	if err != nil {
		return stage{}, nil, err
	}
	st, err := readStage(ctx, tx, session, ids)
	if err != nil {
		return st, nil, err
	}
	log, err := pg.Many[Logged](ctx, tx, loggedSQL, pgx.StrictNamedArgs{"session": session})
	return st, log, err
}

func (st stage) timeIn(ctx context.Context, now time.Time, dive uuid.UUID, log []Logged, all []TimeIn, t TimeIn, at string) (e journal.Entry, row timeInRow, err error) {
	p, err := st.participant(t.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	saw, err := st.witness(ctx, t.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return e, row, err
	}
	if err := checkPressure(t.Start, t.Rating, at+"/start_pressure"); err != nil {
		return e, row, err
	}
	if err := journal.CheckTime(now, t.InAt, at+"/in_at"); err != nil {
		return e, row, err
	}
	found := append(st.notHeld(p), st.mayBeIn(p)...)
	found = append(found, teamOf(all, t)...)
	for _, l := range log {
		if l.DiveID == dive && l.ParticipantID == p.ID {
			found = append(found, InAlready.Of(fmt.Sprintf("%s went in on this dive already at %s.", p.Name, l.InAt.UTC().Format("15:04Z")),
				finding.Subject{Type: "participant", ID: p.ID.String()}, finding.Subject{Type: "entry", ID: l.StartID.String()}))
		}
	}
	e = journal.Entry{Kind: journal.DiveStart, Session: &st.session.ID, Outing: st.session.OutingID, Participant: &p.ID, Enrolment: p.EnrolmentID,
		WitnessedBy: saw, WitnessedAt: t.InAt, Findings: found}
	row = timeInRow{ID: t.ID, DiveID: dive, ParticipantID: p.ID, Team: t.Team, SizeValue: value(t.Size), SizeUnit: unit(t.Size),
		RatingValue: value(t.Rating), RatingUnit: unit(t.Rating), OxygenPercent: t.OxygenPercent, StartValue: value(t.Start), StartUnit: unit(t.Start)}
	return e, row, nil
}

// mayBeIn says what speaks against somebody being in the water.
func (st stage) mayBeIn(p part) finding.List {
	who := finding.Subject{Type: "participant", ID: p.ID.String()}
	end := finding.Cure{Code: "end_dive", Message: "End the dive as the instructor in charge decides, and put the group right."}
	switch {
	case p.Cleared == nil && p.Role == "student":
		f := NoGroup.Of(fmt.Sprintf("%s is in no group.", p.Name), who)
		f.Cures = []finding.Cure{end}
		return finding.List{f}
	case p.Cleared != nil && !*p.Cleared:
		f := GroupNotCleared.Of(fmt.Sprintf("The group of %s is over its ratio: end the dive.", p.Name), who, finding.Subject{Type: "group", ID: p.GroupID.String()})
		f.Cures = []finding.Cure{end}
		return finding.List{f}
	}
	return nil
}

// teamOf points out a team within one call that is not two or three.
func teamOf(all []TimeIn, t TimeIn) finding.List {
	if t.Team == nil {
		return nil
	}
	n := 0
	for _, o := range all {
		if o.Team != nil && *o.Team == *t.Team {
			n++
		}
	}
	if n <= 3 && (n >= 2 || len(all) == 1) {
		return nil
	}
	f := TeamSize.Of(fmt.Sprintf("Team %q has %d divers.", *t.Team, n), finding.Subject{Type: "participant", ID: t.ParticipantID.String()})
	f.Limit, f.Found = finding.Words("2 or 3 divers"), finding.Count(n, "divers")
	return finding.List{f}
}

// LogTimesOut records who came out.
func (s *Service) LogTimesOut(ctx context.Context, dive uuid.UUID, ends []TimeOut) (out []journal.Result, err error) {
	if err := mayReport(ctx); err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(ends))
	for i, t := range ends {
		ids[i] = t.ID
	}
	err = s.db.In(ctx, actor.From(ctx).Centre, func(ctx context.Context, tx *pg.Tx) error {
		st, log, err := readDive(ctx, tx, dive, ids)
		if err != nil {
			return err
		}
		y, err := s.syllabusOf(tx.Centre, st.session.SyllabusID, st.session.SyllabusNo, st.session.SyllabusText)
		if err != nil {
			return err
		}
		dives, err := divesOf(ctx, tx, st.session.ID)
		if err != nil {
			return err
		}
		number, err := diveNumber(dives, &dive, "")
		if err != nil {
			return err
		}
		b, err := collect(st, ends, func(t TimeOut) uuid.UUID { return t.ID }, func(t TimeOut, at string) (journal.Entry, timeOutRow, error) {
			return st.timeOut(ctx, tx.Now, y, number, log, t, at)
		})
		if err != nil {
			return err
		}
		out = b.results
		return b.write(ctx, tx, insertTimesOut)
	})
	return out, err
}

func (st stage) timeOut(ctx context.Context, now time.Time, y syllabus.Syllabus, number int, log []Logged, t TimeOut, at string) (e journal.Entry, row timeOutRow, err error) {
	var start *Logged
	for i := range log {
		if log[i].StartID == t.StartID {
			start = &log[i]
		}
	}
	if start == nil {
		return e, row, fault.UnknownReference("time in of this dive", at+"/start_id")
	}
	p := st.parts[start.ParticipantID]
	saw, err := st.witness(ctx, t.WitnessedBy, at+"/witnessed_by")
	if err != nil {
		return e, row, err
	}
	if err := checkPressure(t.End, start.Rating(), at+"/end_pressure"); err != nil {
		return e, row, err
	}
	if err := journal.CheckTime(now, t.OutAt, at+"/out_at"); err != nil {
		return e, row, err
	}
	e = journal.Entry{Kind: journal.DiveEnd, Session: &st.session.ID, Outing: st.session.OutingID, Participant: &p.ID, Enrolment: p.EnrolmentID,
		WitnessedBy: saw, WitnessedAt: t.OutAt, Findings: st.judgeEnd(y, number, p, *start, t)}
	row = timeOutRow{ID: t.ID, StartID: t.StartID, DepthValue: value(t.Depth), DepthUnit: unit(t.Depth), EndValue: value(t.End), EndUnit: unit(t.End)}
	return e, row, nil
}

// leastEnd is what a dive ends with at least: training organisations' manuals
// say 50 bar or 500 to 700 psi (seen).
var leastEnd = map[units.Unit]units.Reading{units.UnitBar: units.Read(50, units.UnitBar), units.UnitPSI: units.Read(700, units.UnitPSI)}

// judgeEnd says what is to be said of a dive that ended.
func (st stage) judgeEnd(y syllabus.Syllabus, number int, p part, start Logged, t TimeOut) finding.List {
	var found finding.List
	who := finding.Subject{Type: "participant", ID: p.ID.String()}
	if !t.OutAt.After(start.InAt) {
		found = append(found, OutBeforeIn.Of(fmt.Sprintf("%s came out at %s and went in at %s.", p.Name, t.OutAt.UTC().Format("15:04Z"), start.InAt.UTC().Format("15:04Z")), who))
	}
	if t.End != nil && t.End.Compare(leastEnd[t.End.Unit]) < 0 {
		f := EndPressure.Of(fmt.Sprintf("%s ended the dive with %s.", p.Name, t.End), who)
		f.Limit, f.Found = finding.Quantity(leastEnd[t.End.Unit]), finding.Quantity(*t.End)
		f.Cures = []finding.Cure{{Code: "plan_anew", Message: "Plan the next dive with a higher turn pressure or a shorter time."}}
		found = append(found, f)
	}
	if st.session.Kind == syllabus.Open && number > 0 && p.EnrolmentID != nil {
		_, judged := syllabus.JudgeDive(y, diveDone(st.session, number, p.age(st.session), start.StartID, start.InAt, &t.OutAt, t.Depth))
		found = append(found, judged...)
	}
	return found
}

// diveDone makes a dive of a student as the syllabus knows it.
func diveDone(s session, number int, age syllabus.Years, id uuid.UUID, in time.Time, out *time.Time, depth *units.Reading) syllabus.DiveDone {
	d := syllabus.DiveDone{ID: id.String(), Number: number, Age: age, On: s.day()}
	if depth != nil {
		d.Depth = syllabus.Quantity(*depth)
	}
	if out != nil && out.After(in) {
		d.Duration = syllabus.Of(out.Sub(in).Minutes(), units.UnitMinute)
	}
	return d
}
