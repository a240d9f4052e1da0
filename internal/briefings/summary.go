package briefings

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/journal"
)

// QueueSummaries adds the reading of the summaries of entries to a batch, of the kinds
// that this package keeps: briefings and acknowledgements.
func (s *Service) QueueSummaries(b *pgx.Batch, into journal.Summaries, entries map[journal.Kind][]uuid.UUID) {
	journal.QueueSummaries(b, into, entries[journal.Briefing], `SELECT b.id, b.check_every_s,
			(
				SELECT count(*)
				FROM briefing_person x
				WHERE x.centre_id = b.centre_id AND x.briefing_id = b.id) AS people
		FROM briefing b
		WHERE b.centre_id = app_centre() AND b.id = w.id`, briefingSummary.say)
	journal.QueueSummaries(b, into, entries[journal.Acknowledgement], `SELECT a.id, n.name, a.how
		FROM acknowledgement a
		JOIN people_person n ON n.centre_id = a.centre_id AND n.id = a.person_id
		WHERE a.centre_id = app_centre() AND a.id = w.id`, acknowledgementSummary.say)
}

// briefingSummary is what the summary of a briefing is made of.
type briefingSummary struct {
	ID          uuid.UUID
	CheckEveryS *int64
	People      int
}

func (b briefingSummary) say() (uuid.UUID, string) {
	agreed := "no interval of gas checks agreed"
	if b.CheckEveryS != nil {
		agreed = "a gas check every " + finding.Lasting(time.Duration(*b.CheckEveryS)*time.Second)
	}
	people := "1 person"
	if b.People != 1 {
		people = fmt.Sprintf("%d people", b.People)
	}
	return b.ID, fmt.Sprintf("Briefing of %s, %s.", people, agreed)
}

// acknowledgementSummary is what the summary of an acknowledgement is made of.
type acknowledgementSummary struct {
	ID        uuid.UUID
	Name, How string
}

func (h acknowledgementSummary) say() (uuid.UUID, string) {
	how := map[string]string{"gave_it": "gave it", "own_token": "acknowledged it themselves",
		"said_so":   "said so",
		"signalled": "signalled it", "wrote": "wrote it"}[h.How]
	return h.ID, fmt.Sprintf("Briefing heard: %s %s.", h.Name, how)
}
