package waterlog

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/watercheck"
	"tankside/internal/waterview"
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
	Simulated       bool           `json:"Simulated,omitzero"`      // a pressure made up for a drill
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

// seen returns the check as the marks are judged by it.
func (c GasCheck) seen() signal.SeenCheck {
	return signal.SeenCheck{Reading: c.Reading, Signalled: c.Signalled, Simulated: c.Simulated}
}

// SignalledWith is how somebody reported their gas.
type SignalledWith string

// The ways. Who shows the gauge itself reports nothing that could be judged.
const (
	OneHand  SignalledWith = "one_hand"
	TwoHands SignalledWith = "two_hands"
	Gauge    SignalledWith = "gauge"
)

// gasCheckRow is the detail row of a gas check.
type gasCheckRow struct {
	ID            uuid.UUID      `json:"id"`
	ParticipantID uuid.UUID      `json:"participant_id"`
	DiveID        *uuid.UUID     `json:"dive_id"`
	Depth         *units.Reading `json:"depth"`
	Reading       *units.Reading `json:"reading"`
	ReadAfter     bool           `json:"read_after_signal"`
	Signalled     *units.Reading `json:"signalled"`
	SignalledWith *SignalledWith `json:"signalled_with"`
	Answered      bool           `json:"answered"`
	Verdict       signal.Verdict `json:"verdict"`
	Simulated     bool           `json:"simulated"`
}

const insertGasChecks = `
	INSERT INTO gas_check (centre_id, id, participant_id, dive_id, depth, reading, read_after_signal, signalled,
		signalled_with, answered, verdict, simulated)
	SELECT app_centre(), x.*
	FROM jsonb_to_recordset(@rows::jsonb) AS x (id uuid, participant_id uuid, dive_id uuid, depth depth,
		reading pressure, read_after_signal boolean, signalled pressure, signalled_with text, answered boolean,
		verdict text, simulated boolean)`

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
	asked := watercheck.MentionsOf(checks, func(c GasCheck) (uuid.UUID, *uuid.UUID) { return c.ID, c.WitnessedBy })
	parts := make([]uuid.UUID, len(checks))
	for i, c := range checks {
		parts[i] = c.ParticipantID
	}
	var gauges gaswatch.Gauges
	st, err := watercheck.ReadSnapshot(ctx, tx, session, dayview.Agreed, asked, gauges.Queue(parts))
	if err != nil {
		return nil, err
	}
	plan := gaswatch.AgreedIn(st.View)
	b, err := collect(st, session, checks, func(c GasCheck) uuid.UUID { return c.ID },
		func(c GasCheck, at string) (journal.Entry, gasCheckRow, error) {
			rating := waterview.RatingOf(gauges.Dives, c.ParticipantID)
			if byRating {
				if err := gaswatch.CheckPressure(c.Reading, rating, at+"/reading"); err != nil {
					return journal.Entry{}, gasCheckRow{}, err
				}
			}
			e, row, err := gasCheckEntry(st, by, tx.Now, rating, c, at)
			if err == nil {
				p := st.Parts[c.ParticipantID]
				e.Findings = append(e.Findings, signal.JudgeMarks(plan.Marks(p.ID, p.GaugeUnit, c.DiveID), c.seen())...)
			}
			return e, row, err
		})
	if err == nil {
		err = s.doubt(ctx, tx, st, gauges, &b)
	}
	if err != nil {
		return nil, err
	}
	return b.results, b.write(ctx, by, tx, insertGasChecks)
}

func gasCheckEntry(st watercheck.Snapshot, by actor.Actor, now time.Time, rating *units.Reading, c GasCheck,
	at string) (e journal.Entry, row gasCheckRow, err error) {
	p, err := st.Participant(c.ParticipantID, at+"/participant_id")
	if err != nil {
		return e, row, err
	}
	if _, err := st.TrainingDive(c.DiveID, at+"/dive_id"); err != nil {
		return e, row, err
	}
	if err := gaswatch.CheckPressure(c.Reading, nil, at+"/reading"); err != nil {
		return e, row, err
	}
	if err := gaswatch.CheckPressure(c.Signalled, nil, at+"/signalled"); err != nil {
		return e, row, err
	}
	if c.SignalledWith == Gauge && c.Reading == nil {
		return e, row, fault.Invalid(at+"/reading", "The gauge itself was shown: say what it showed.")
	}
	if err := c.believable(at); err != nil {
		return e, row, err
	}
	saw, err := st.Witness(by, now, watercheck.Sighting{By: c.WitnessedBy, At: c.WitnessedAt,
		Member: "witnessed_at"}, at)
	if err != nil {
		return e, row, err
	}
	verdict, found := signal.JudgeCheck(signal.Check{Gauge: p.GaugeUnit, Reading: c.Reading,
		ReadAfterSignal: c.ReadAfterSignal,
		Signalled:       c.Signalled, NoAnswer: c.NoAnswer})
	row = gasCheckRow{ID: c.ID, ParticipantID: p.ID, DiveID: c.DiveID, Depth: c.Depth,
		Reading: c.Reading, ReadAfter: c.ReadAfterSignal, Signalled: c.Signalled,
		Answered: verdict != signal.NoAnswer, Verdict: verdict, Simulated: c.Simulated}
	if c.SignalledWith != "" {
		row.SignalledWith = &c.SignalledWith
	}
	e = st.Entry(journal.GasCheck, p, saw, c.WitnessedAt, found)
	if !c.Simulated {
		e.Also = append(e.Also, watercheck.JudgeRating(p, c.Reading, rating)...)
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
			"A depth of {found} is beyond the {limit} down to which gas checks are taken. Check the figure and "+
				"its unit.", c.Depth, deepestCheck)
	}
	return nil
}

// GasChecks lists the gas checks of a session in the order in which they were
// witnessed, voided ones included; participants narrows it.
func (s *Service) GasChecks(ctx context.Context, by actor.Actor, session uuid.UUID, participants []uuid.UUID,
	p page.Request) (out []waterview.GasCheck, next *page.Place, err error) {
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		found, err := s.check.FoundOfEntries(ctx, tx, session)
		if err != nil {
			return err
		}
		out, next, err = waterview.ListGasChecks(ctx, tx, session, participants, p)
		watercheck.Decorate(out, found, func(x *waterview.GasCheck) *journal.Head { return &x.Head })
		return err
	})
	return out, next, err
}

// doubt adds, to the answer about checks that are being recorded, what is doubted about
// their readings beside those that are known.
func (s *Service) doubt(ctx context.Context, tx *pg.Tx, st watercheck.Snapshot, known gaswatch.Gauges,
	b *batch[gasCheckRow]) error {
	parts := map[uuid.UUID]bool{}
	for i, row := range b.rows {
		known.Checks = append(known.Checks,
			waterview.GasCheck{Head: journal.Head{ID: row.ID, ParticipantID: &b.rows[i].ParticipantID,
				WitnessedAt: b.entries[i].WitnessedAt},
				DiveID: row.DiveID, Depth: row.Depth, Reading: row.Reading, Simulated: row.Simulated})
		parts[row.ParticipantID] = true
	}
	slices.SortStableFunc(known.Checks,
		func(a, b waterview.GasCheck) int { return a.WitnessedAt.Compare(b.WitnessedAt) })
	doubts, err := s.watch.Doubts(ctx, tx, st.View, known, func(id uuid.UUID) bool { return parts[id] })
	if err != nil {
		return err
	}
	for i, r := range b.results {
		if r.Status == journal.Recorded {
			b.results[i].Findings = append(b.results[i].Findings, doubts[r.ID]...)
		}
	}
	return nil
}

// checkSummary is a look at a gauge, a report, or both.
type checkSummary struct {
	ID                        uuid.UUID
	Name                      string
	Depth, Reading, Signalled *units.Reading
	Answered                  bool
	Simulated                 bool
}

func (c checkSummary) say() (uuid.UUID, string) {
	read, told := at("", c.Reading), at("signalled ", c.Signalled)
	var words []string
	switch {
	case !c.Answered:
		words = append(words, "asked for the gas, no answer")
	case told != "":
		words = append(words, told)
	}
	switch {
	case read != "" && len(words) > 0:
		words = append(words, "the gauge read "+read)
	case read != "":
		words = append(words, read)
	}
	out := strings.Join(words, ", ") + at(" at ", c.Depth)
	if c.Simulated {
		out += " (simulated)"
	}
	return c.ID, c.Name + ": " + out + "."
}

// GasCheckKind returns the kind of gas checks.
func (s *Service) GasCheckKind() journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.GasCheck,
		Operation: "recordGasChecks", Member: "Check"}, s.EnterGasChecks), `
	SELECT d.id, n.name, d.depth, d.reading, d.signalled, d.answered, d.simulated
	FROM gas_check d`+ofParticipant+thisOne, checkSummary.say)
}
