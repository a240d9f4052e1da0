package training

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// ofParticipant joins the name to a row d of a participant, and the number of its
// dive, which may be null.
const ofParticipant = `
	JOIN sessions_participant p ON p.centre_id = d.centre_id AND p.id = d.participant_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id `

const thisOne = ` WHERE d.centre_id = app_centre() AND d.id = w.id`

// QueueSummaries adds to a batch the reading of what entries say of the kinds that
// training witnesses: dives, gas checks and responses, drill attempts, theory
// results, and that a log is complete.
func (s *Service) QueueSummaries(b *pgx.Batch, into journal.Summaries, entries map[journal.Kind][]uuid.UUID) {
	journal.QueueSummaries(b, into, entries[journal.DiveStart],
		`SELECT d.id, n.name, v.number, d.start_value AS value, d.start_unit AS unit
		FROM dive_start d`+ofParticipant+thisOne, inSummary.say)
	journal.QueueSummaries(b, into, entries[journal.DiveEnd],
		`SELECT z.id, n.name, v.number, z.end_value AS value, z.end_unit AS unit,
			z.depth_value, z.depth_unit
		FROM dive_end z JOIN dive_start d ON d.centre_id = z.centre_id AND d.id = z.dive_start_id`+ofParticipant+
			` WHERE z.centre_id = app_centre() AND z.id = w.id`, outSummary.say)
	journal.QueueSummaries(b, into, entries[journal.GasCheck],
		`SELECT d.id, n.name, d.depth_value, d.depth_unit, d.reading_value, d.reading_unit,
			d.signalled_value, d.signalled_unit, d.answered, d.simulated
		FROM gas_check d`+ofParticipant+thisOne, checkSummary.say)
	journal.QueueSummaries(b, into, entries[journal.GasResponse], `SELECT d.id, n.name, d.what
		FROM gas_response d`+ofParticipant+thisOne, responseSummary.say)
	journal.QueueSummaries(b, into, entries[journal.DrillAttempt],
		`SELECT d.id, n.name, d.skill, d.role, d.claimed, d.met
		FROM drill_attempt d`+ofParticipant+thisOne, attemptSummary.say)
	journal.QueueSummaries(b, into, entries[journal.TheoryResult],
		`SELECT d.id, n.name, d.part, d.percent, d.pass_mark
		FROM theory_result d
		JOIN courses_enrolment p ON p.centre_id = d.centre_id AND p.id = d.enrolment_id
		JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id`+thisOne, theorySummary.say)
	journal.QueueSummaries(b, into, entries[journal.LogCompletion], `SELECT d.id, v.number
		FROM log_completion d LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id`+thisOne, completeSummary.say)
}

// at returns the words for a reading, with what leads to it, "" for none.
func at(before string, value *float64, unit *string) string {
	if r := pg.Reading(value, unit); r != nil {
		return before + r.String()
	}
	return ""
}

// inSummary is a time in.
type inSummary struct {
	ID     uuid.UUID
	Name   string
	Number *int
	Value  *float64 // the start pressure
	Unit   *string
}

func (d inSummary) say() (uuid.UUID, string) {
	return d.ID, d.Name + ": in the water" + onDiveNumber(" on", d.Number) + at(" with ", d.Value, d.Unit) + "."
}

func onDiveNumber(on string, n *int) string {
	if n == nil {
		return ""
	}
	return fmt.Sprintf("%s dive %d", on, *n)
}

// outSummary is a time out.
type outSummary struct {
	ID         uuid.UUID
	Name       string
	Number     *int
	Value      *float64 // the end pressure
	Unit       *string
	DepthValue *float64
	DepthUnit  *string
}

func (d outSummary) say() (uuid.UUID, string) {
	return d.ID, d.Name + ": out of the water" +
		onDiveNumber(" after", d.Number) + at(" with ", d.Value, d.Unit) +
		at(", greatest depth ", d.DepthValue, d.DepthUnit) + "."
}

// checkSummary is a look at a gauge, a report, or both.
type checkSummary struct {
	ID             uuid.UUID
	Name           string
	DepthValue     *float64
	DepthUnit      *string
	ReadingValue   *float64
	ReadingUnit    *string
	SignalledValue *float64
	SignalledUnit  *string
	Answered       bool
	Simulated      bool
}

func (c checkSummary) say() (uuid.UUID, string) {
	read, told := at("", c.ReadingValue, c.ReadingUnit), at("signalled ", c.SignalledValue, c.SignalledUnit)
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
	out := strings.Join(words, ", ") + at(" at ", c.DepthValue, c.DepthUnit)
	if c.Simulated {
		out += " (simulated)"
	}
	return c.ID, c.Name + ": " + out + "."
}

// responseSummary is what somebody did about the gas.
type responseSummary struct {
	ID         uuid.UUID
	Name, What string
}

func (r responseSummary) say() (uuid.UUID, string) {
	did := map[string]string{"turned": "turned the dive", "signalled_low": "signalled low on gas",
		"ascent_begun": "began the ascent"}[r.What]
	return r.ID, r.Name + " " + did + "."
}

// attemptSummary is a try at a skill.
type attemptSummary struct {
	ID           uuid.UUID
	Name, Skill  string
	Role         *string
	Claimed, Met bool
}

func (a attemptSummary) say() (uuid.UUID, string) {
	as, outcome := "", "met"
	if a.Role != nil {
		as = " as " + *a.Role
	}
	switch {
	case a.Claimed && !a.Met:
		outcome = "not met by what was measured"
	case !a.Met:
		outcome = "not yet"
	}
	return a.ID, fmt.Sprintf("%s: %s%s, %s.", a.Name, strings.ReplaceAll(a.Skill, "_", " "), as, outcome)
}

// theorySummary is the mark of a part of the theory.
type theorySummary struct {
	ID                uuid.UUID
	Name, Part        string
	Percent, PassMark float64
}

func (t theorySummary) say() (uuid.UUID, string) {
	outcome := "passed"
	if t.Percent < t.PassMark {
		outcome = "not passed"
	}
	mark := func(x float64) units.Reading { return units.Read(x, units.UnitPercent) }
	return t.ID, fmt.Sprintf("%s: theory %s, %s of the %s to pass, %s.", t.Name,
		strings.ReplaceAll(t.Part, "_", " "),
		mark(t.Percent), mark(t.PassMark), outcome)
}

// completeSummary is somebody's word that a log is complete.
type completeSummary struct {
	ID     uuid.UUID
	Number *int // of the dive; nil: the whole session
}

func (c completeSummary) say() (uuid.UUID, string) {
	if c.Number == nil {
		return c.ID, "The log of the session is complete."
	}
	return c.ID, fmt.Sprintf("The log of dive %d is complete.", *c.Number)
}
