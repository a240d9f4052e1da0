package sessions

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/journal"
	"tankside/internal/units"
)

// QueueSummaries adds to a batch the reading of what entries say of the kinds that
// sessions witness: roll calls, conditions, head counts and incidents.
func (s *Service) QueueSummaries(b *pgx.Batch, into journal.Summaries, entries map[journal.Kind][]uuid.UUID) {
	journal.QueueSummaries(b, into, entries[journal.RollCall], `SELECT r.id, n.name, r.attendance, r.aboard
		FROM roll_call r
		JOIN sessions_participant p ON p.centre_id = r.centre_id AND p.id = r.participant_id
		JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
		WHERE r.centre_id = app_centre() AND r.id = w.id`, calledSummary.say)
	journal.QueueSummaries(b, into, entries[journal.Conditions],
		`SELECT c.id, c.visibility, c.current, c.temperature, c.note
		FROM conditions_report c
		WHERE c.centre_id = app_centre() AND c.id = w.id`, conditionsSummary.say)
	journal.QueueSummaries(b, into, entries[journal.HeadCount],
		`SELECT h.id, h.phase, h.dive_number, h.figure, h.on_list
		FROM head_count h
		WHERE h.centre_id = app_centre() AND h.id = w.id`, countSummary.say)
	journal.QueueSummaries(b, into, entries[journal.Incident], `SELECT i.id, i.what, ARRAY(
			SELECT n.name FROM incident_person x
			JOIN people_person n ON n.centre_id = x.centre_id AND n.id = x.person_id
			WHERE x.centre_id = i.centre_id AND x.incident_id = i.id ORDER BY n.name) AS names
		FROM incident i
		WHERE i.centre_id = app_centre() AND i.id = w.id`, incidentSummary.say)
}

// calledSummary is a roll call of one participant.
type calledSummary struct {
	ID         uuid.UUID
	Name       string
	Attendance Attendance
	Aboard     *bool
}

func (c calledSummary) say() (uuid.UUID, string) {
	words := strings.ReplaceAll(string(c.Attendance), "_", " ")
	switch away := c.Attendance == Absent || c.Attendance == LeftEarly; {
	case c.Aboard != nil && *c.Aboard:
		words += ", aboard"
	case c.Aboard != nil && away:
		words += ", not aboard"
	}
	return c.ID, fmt.Sprintf("Roll call: %s %s.", c.Name, words)
}

// conditionsSummary is a report of the conditions.
type conditionsSummary struct {
	ID                               uuid.UUID
	Visibility, Current, Temperature *units.Reading
	Note                             *string
}

func (c conditionsSummary) say() (uuid.UUID, string) {
	var seen []string
	for _, x := range []struct {
		of string
		r  *units.Reading
	}{{"visibility", c.Visibility}, {"current", c.Current}, {"water", c.Temperature}} {
		if x.r != nil {
			seen = append(seen, x.of+" "+x.r.String())
		}
	}
	if c.Note != nil {
		seen = append(seen, journal.Excerpt(*c.Note))
	}
	if len(seen) == 0 {
		return c.ID, "Conditions: nothing noted."
	}
	return c.ID, journal.Sentence("Conditions: " + strings.Join(seen, ", "))
}

// countSummary is a head count.
type countSummary struct {
	ID             uuid.UUID
	Phase          string
	DiveNumber     *int
	Figure, OnList int
}

func (c countSummary) say() (uuid.UUID, string) {
	when := map[string]string{"departure": "before departure", "after_dive": "after a dive",
		"return": "on return"}[c.Phase]
	if c.DiveNumber != nil {
		when = fmt.Sprintf("after dive %d", *c.DiveNumber)
	}
	return c.ID, fmt.Sprintf("Head count %s: %d counted, %d on the list.", when, c.Figure, c.OnList)
}

// incidentSummary is an incident with those whom it names.
type incidentSummary struct {
	ID    uuid.UUID
	What  string
	Names []string
}

func (i incidentSummary) say() (uuid.UUID, string) {
	who := ""
	if len(i.Names) > 0 {
		who = " with " + strings.Join(i.Names, ", ")
	}
	return i.ID, journal.Sentence("Incident" + who + ": " + journal.Excerpt(i.What))
}
