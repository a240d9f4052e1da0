package sessions

import (
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/units"
)

// RollCallKind returns the kind of roll calls. Who sends them in a batch needs the scope,
// as for a single post; so for the other kinds that take one.
func (s *Service) RollCallKind(scope actor.Scope) journal.EntryKind {
	return journal.Summarised(journal.Listed(journal.EntryKind{Kind: journal.RollCall,
		Operation: "recordRollCalls", Member: "Call", Scope: scope},
		func(ctx context.Context, by actor.Actor, tx *pg.Tx, session uuid.UUID,
			calls []NewRollCallEntry) ([]journal.Result, error) {
			out, _, err := s.EnterCalls(ctx, by, tx, session, calls)
			return out, err
		}), `
	SELECT r.id, n.name, r.attendance, r.aboard
	FROM roll_call r
	JOIN sessions_participant p ON p.centre_id = r.centre_id AND p.id = r.participant_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	WHERE r.centre_id = app_centre() AND r.id = w.id`, calledSummary.say)
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

// ConditionsKind returns the kind of reports of conditions.
func (s *Service) ConditionsKind(scope actor.Scope) journal.EntryKind {
	return journal.Summarised(journal.Single(journal.EntryKind{Kind: journal.Conditions,
		Operation: "recordConditions", Member: "Report", Scope: scope},
		func(ctx context.Context, by actor.Actor, tx *pg.Tx, r Report) (finding.List, bool, error) {
			head, created, err := s.EnterReport(ctx, by, tx, r)
			return head.Findings, created, err
		}), `
	SELECT c.id, c.visibility, c.current, c.temperature, c.note
	FROM conditions_report c
	WHERE c.centre_id = app_centre() AND c.id = w.id`, conditionsSummary.say)
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

// HeadCountKind returns the kind of head counts.
func (s *Service) HeadCountKind(scope actor.Scope) journal.EntryKind {
	return journal.Summarised(journal.Single(journal.EntryKind{Kind: journal.HeadCount,
		Operation: "recordHeadCount", Member: "Count", Scope: scope},
		func(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewHeadCount) (finding.List, bool, error) {
			count, created, err := s.EnterCount(ctx, by, tx, n)
			return count.Findings, created, err
		}), `
	SELECT h.id, h.phase, h.dive_number, h.figure, h.on_list
	FROM head_count h
	WHERE h.centre_id = app_centre() AND h.id = w.id`, countSummary.say)
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

// IncidentKind returns the kind of incidents.
func (s *Service) IncidentKind() journal.EntryKind {
	return journal.Summarised(journal.Single(journal.EntryKind{Kind: journal.Incident,
		Operation: "recordIncident", Member: "Incident"},
		func(ctx context.Context, by actor.Actor, tx *pg.Tx, n NewIncident) (finding.List, bool, error) {
			_, created, err := s.EnterIncident(ctx, by, tx, n)
			return nil, created, err
		}), `
	SELECT i.id, i.what, ARRAY(
			SELECT n.name FROM incident_person x
			JOIN people_person n ON n.centre_id = x.centre_id AND n.id = x.person_id
			WHERE x.centre_id = i.centre_id AND x.incident_id = i.id
			ORDER BY n.name) AS names
	FROM incident i
	WHERE i.centre_id = app_centre() AND i.id = w.id`, incidentSummary.say)
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
