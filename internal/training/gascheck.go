package training

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/gas"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// GasCheck is one look at somebody's gas: what the gauge showed and what was
// signalled, as far as either was seen.
type GasCheck struct {
	ID              uuid.UUID      `json:"ID"`
	ParticipantID   uuid.UUID      `json:"ParticipantID"`
	DiveID          *uuid.UUID     `json:"DiveID"`
	Depth           *units.Reading `json:"Depth"`
	Reading         *units.Reading `json:"Reading"`
	ReadAfterSignal bool           `json:"ReadAfterSignal"`
	Signalled       *units.Reading `json:"Signalled"`
	SignalledWith   SignalledWith  `json:"SignalledWith,omitempty"` // "" where nobody noted it
	NoAnswer        bool           `json:"NoAnswer"`                // asked, and no answer came
	Simulated       bool           `json:"Simulated,omitzero"`      // a made-up pressure of a drill; left out of the digest where it is not
	WitnessedBy     *uuid.UUID     `json:"WitnessedBy"`             // the caller unless said
	WitnessedAt     time.Time      `json:"WitnessedAt"`
}

// Times implements journal.Item.
func (c *GasCheck) Times() []*time.Time { return []*time.Time{&c.WitnessedAt} }

// Digest implements journal.Item.
func (c GasCheck) Digest(of uuid.UUID) []byte { return journal.DigestOf(said{of, c}) }

// Names implements journal.Item.
func (c GasCheck) Names() []journal.Ref {
	return slices.Concat(journal.Named(journal.AParticipant, &c.ParticipantID),
		journal.Named(journal.ADive, c.DiveID),
		journal.Named(journal.APerson, c.WitnessedBy))
}

// SignalledWith is how somebody reported their gas.
type SignalledWith string

// The ways. Who shows the gauge itself reports nothing that could be judged.
const (
	OneHand  SignalledWith = "one_hand"
	TwoHands SignalledWith = "two_hands"
	Gauge    SignalledWith = "gauge"
)

// mostPressure is the highest gauge pressure that is believed at all, in any
// cylinder: 350 bar, our choice, above every rating in the trade.
var mostPressure = units.Read(350, units.UnitBar)

// checkPressure returns a fault for a pressure that no gauge can show.
func checkPressure(r *units.Reading, rating *units.Reading, pointer string) error {
	if r == nil {
		return nil
	}
	if r.Value < 0 {
		return fault.Invalid(pointer, fmt.Sprintf("%s is below zero, which no gauge shows.", r))
	}
	if r.Compare(mostPressure) > 0 {
		return fault.Invalid(pointer,
			fmt.Sprintf("%s is above %s, which no cylinder holds. Check the unit.", r, mostPressure))
	}
	if rating != nil && r.Pressure() > gas.MostOfRating*rating.Pressure() {
		most := units.Read((gas.MostOfRating * rating.Pressure()).In(rating.Unit), rating.Unit)
		return fault.Invalid(pointer,
			fmt.Sprintf("%s is above %s, one and a half times the cylinder's rating of %s. Check the unit; if the rating is wrong, void the time in that gives it and record it again.", r, most, rating))
	}
	return nil
}

// gasCheckRow is the detail row of a gas check.
type gasCheckRow struct {
	ID             uuid.UUID      `json:"id"`
	ParticipantID  uuid.UUID      `json:"participant_id"`
	DiveID         *uuid.UUID     `json:"dive_id"`
	DepthValue     *float64       `json:"depth_value"`
	DepthUnit      *string        `json:"depth_unit"`
	ReadingValue   *float64       `json:"reading_value"`
	ReadingUnit    *string        `json:"reading_unit"`
	ReadAfter      bool           `json:"read_after_signal"`
	SignalledValue *float64       `json:"signalled_value"`
	SignalledUnit  *string        `json:"signalled_unit"`
	SignalledWith  *SignalledWith `json:"signalled_with"`
	Answered       bool           `json:"answered"`
	Verdict        signal.Verdict `json:"verdict"`
	Simulated      bool           `json:"simulated"`
}

const insertGasChecks = `INSERT INTO gas_check (centre_id, id, participant_id, dive_id, depth_value, depth_unit, reading_value, reading_unit,
		read_after_signal, signalled_value, signalled_unit, signalled_with, answered, verdict, simulated)
	SELECT app_centre(), x.* FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, participant_id uuid, dive_id uuid, depth_value numeric, depth_unit text,
		reading_value numeric, reading_unit text, read_after_signal boolean, signalled_value numeric, signalled_unit text, signalled_with text, answered boolean, verdict text,
		simulated boolean)`

// LogGasChecks records gas checks of a session, each for itself. An impossible
// reading is refused, also by the rating of the cylinder that the diver went in
// with: whoever posts it can look again. None is refused by a rule: each is judged
// against the diver's own gauge and the pressures that the diver is held against (see
// agreed), and answered with what was found. What is found does not depend on other checks: which one
// was the first at a pressure of the plan follows when the log is read.
func (s *Service) LogGasChecks(ctx context.Context, by actor.Actor, session uuid.UUID,
	checks []GasCheck) (out []journal.Result, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = s.enterGasChecks(ctx, by, tx, session, checks, true)
		return err
	})
	return out, err
}

// EnterGasChecks is LogGasChecks in the caller's transaction, for package offline;
// so are the other methods that begin with Enter. Here the rating of a cylinder
// refuses nothing, since the time in that gives it may come later, and any order
// of arrival ends the same: it is found.
func (s *Service) EnterGasChecks(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	checks []GasCheck) ([]journal.Result, error) {
	return s.enterGasChecks(ctx, by, tx, session, checks, false)
}

func (s *Service) enterGasChecks(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
	checks []GasCheck, byRating bool) ([]journal.Result, error) {
	asked := ask(checks, func(c GasCheck) (uuid.UUID, *uuid.UUID) { return c.ID, c.WitnessedBy })
	parts := make([]uuid.UUID, len(checks))
	for i, c := range checks {
		parts[i] = c.ParticipantID
	}
	var gauges water
	st, err := readStage(ctx, tx, session, dayview.Agreed, asked, gauges.queueGauges(parts))
	if err != nil {
		return nil, err
	}
	plan := agreed{st.view}
	b, err := collect(st, session, checks, func(c GasCheck) uuid.UUID { return c.ID },
		func(c GasCheck, at string) (journal.Entry, gasCheckRow, error) {
			rating := ratingOf(gauges.log, c.ParticipantID)
			if byRating {
				if err := checkPressure(c.Reading, rating, at+"/reading"); err != nil {
					return journal.Entry{}, gasCheckRow{}, err
				}
			}
			e, row, err := st.gasCheck(by, tx.Now, rating, c, at)
			if err == nil {
				e.Findings = append(e.Findings, plan.judge(st.parts[c.ParticipantID], c)...)
			}
			return e, row, err
		})
	if err == nil {
		err = s.readGauges(ctx, tx, st, &gauges, &b)
	}
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertGasChecks)
}

func (st stage) gasCheck(by actor.Actor, now time.Time, rating *units.Reading, c GasCheck,
	at string) (e journal.Entry, row gasCheckRow, err error) {
	p, err := st.participant(c.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if _, err := st.trainingDive(c.DiveID, at+"/dive_id"); err != nil {
		return e, row, err
	}
	if err := checkPressure(c.Reading, nil, at+"/reading"); err != nil {
		return e, row, err
	}
	if err := checkPressure(c.Signalled, nil, at+"/signalled"); err != nil {
		return e, row, err
	}
	if c.SignalledWith == Gauge && c.Reading == nil {
		return e, row, fault.Invalid(at+"/reading", "The gauge itself was shown: say what it showed.")
	}
	if err := c.believable(at); err != nil {
		return e, row, err
	}
	saw, err := st.witness(by, now, sighting{c.WitnessedBy, c.WitnessedAt, "witnessed_at"}, at)
	if err != nil {
		return e, row, err
	}
	verdict, found := signal.JudgeCheck(signal.Check{Gauge: p.GaugeUnit, Reading: c.Reading,
		ReadAfterSignal: c.ReadAfterSignal,
		Signalled:       c.Signalled, NoAnswer: c.NoAnswer})
	row = gasCheckRow{ID: c.ID, ParticipantID: p.ID, DiveID: c.DiveID, DepthValue: value(c.Depth),
		DepthUnit:    unit(c.Depth),
		ReadingValue: value(c.Reading), ReadingUnit: unit(c.Reading), ReadAfter: c.ReadAfterSignal,
		SignalledValue: value(c.Signalled), SignalledUnit: unit(c.Signalled), Answered: verdict != signal.NoAnswer, Verdict: verdict, Simulated: c.Simulated}
	if c.SignalledWith != "" {
		row.SignalledWith = &c.SignalledWith
	}
	e = st.entry(journal.GasCheck, p, saw, c.WitnessedAt, found)
	if !c.Simulated {
		e.Also = append(e.Also, aboveRating(p, c.Reading, rating)...)
	}
	return e, row, nil
}

// deepestCheck is the greatest depth that a gas check is taken with, our choice:
// far below any training dive, so that more is a slip or another unit.
var deepestCheck = units.Read(100, units.UnitMetre)

// believable refuses a check of which nothing was seen, and a depth that
// nobody was at.
func (c GasCheck) believable(at string) error {
	switch {
	case c.Reading == nil && c.Signalled == nil && !c.NoAnswer:
		return fault.Invalid(at,
			"Nothing was seen: give what the gauge showed, what was signalled, or that there was no_answer.")
	case c.Depth != nil && c.Depth.Compare(deepestCheck) > 0:
		return fault.Invalid(at+"/depth",
			fmt.Sprintf("A depth of %s is beyond the %s down to which gas checks are taken. Check the figure and its unit.", c.Depth, deepestCheck))
	}
	return nil
}

// GasCheckLogged is a gas check as it was recorded.
type GasCheckLogged struct {
	journal.Head
	DiveID          *uuid.UUID
	DepthValue      *float64
	DepthUnit       *string
	ReadingValue    *float64
	ReadingUnit     *string
	ReadAfterSignal bool
	SignalledValue  *float64
	SignalledUnit   *string
	SignalledWith   *string
	Answered        bool
	Verdict         signal.Verdict
	Simulated       bool
}

// Depth returns the depth of the check, nil when it is not known.
func (g GasCheckLogged) Depth() *units.Reading { return pg.Reading(g.DepthValue, g.DepthUnit) }

// Reading returns what the gauge showed, nil when nobody saw it.
func (g GasCheckLogged) Reading() *units.Reading { return pg.Reading(g.ReadingValue, g.ReadingUnit) }

// Signalled returns what was reported, nil when no report was seen.
func (g GasCheckLogged) Signalled() *units.Reading {
	return pg.Reading(g.SignalledValue, g.SignalledUnit)
}

const (
	checkedColumns = `g.dive_id, g.depth_value, g.depth_unit, g.reading_value, g.reading_unit, g.read_after_signal,
		g.signalled_value, g.signalled_unit, g.signalled_with, g.answered, g.verdict, g.simulated`

	gasChecksFrom = `
	SELECT ` + journal.Columns + `, ` + checkedColumns + `
	FROM gas_check g
	JOIN journal_entry e ON e.centre_id = g.centre_id AND e.id = g.id `

	// gasChecksThat has the gas checks of the entries e that stand.
	gasChecksThat = `
	CROSS JOIN LATERAL (
		SELECT *
		FROM gas_check g
		WHERE g.centre_id = e.centre_id AND g.id BETWEEN e.id AND e.id
		ORDER BY g.id) g
	WHERE e.kind = 'gas_check' AND e.voided_at IS NULL
	ORDER BY e.witnessed_at, e.id`

	// The enrolments are left out, which the view of the session has.
	gasChecksOfSession = `SELECT ` + journal.BareColumns + `, ` + checkedColumns + ofSession + gasChecksThat
	gasChecksOfParts   = `SELECT ` + journal.BareColumns + `, ` + checkedColumns + ofParts + gasChecksThat
)

// GasChecks lists the gas checks of a session in the order in which they were
// witnessed, voided ones included; participants narrows it.
func (s *Service) GasChecks(ctx context.Context, by actor.Actor, session uuid.UUID, participants []uuid.UUID,
	p page.Request) (out []GasCheckLogged, next *page.Place, err error) {
	return listEntries(ctx, by, s, session, participants, p, gasChecksFrom,
		func(g *GasCheckLogged) *journal.Head { return &g.Head })
}

// listEntries reads a page of one kind of entries of a session; from is the
// SELECT with its FROM, the header called e.
func listEntries[T any](ctx context.Context, by actor.Actor, s *Service, session uuid.UUID,
	participants []uuid.UUID, p page.Request, from string, head func(*T) *journal.Head) (out []T, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{"session": session, "participants": participants}
	cond, order, err := p.SQL(page.Column{Name: "witnessed_at", Type: "timestamptz"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		found, err := s.Found(ctx, tx, session)
		if err != nil {
			return err
		}
		rows, err := pg.Rows[T](ctx, tx, `SELECT * FROM (`+from+
			` WHERE e.centre_id = app_centre() AND e.session_id = @session
			AND (@participants::uuid[] IS NULL OR e.participant_id = ANY (@participants))) e WHERE `+cond+` `+order, args)
		out, next = page.Cut(p, rows,
			func(t T) page.Place { return page.At(head(&t).WitnessedAt, head(&t).ID) })
		decorate(out, found, head)
		return err
	})
	return out, next, err
}

// sessionThere insists that a session is there.
func sessionThere(ctx context.Context, tx *pg.Tx, id uuid.UUID) error {
	_, found, err := pg.OptionalRow[session](ctx, tx, sessionsSQL,
		pgx.StrictNamedArgs{"sessions": []uuid.UUID{id}})
	if err == nil && !found {
		err = fault.NoSuch("session")
	}
	return err
}
