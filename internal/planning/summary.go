package planning

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/finding"
	"tankside/internal/journal"
)

// QueueSummaries adds to a batch the reading of what entries say of the kinds that
// planning witnesses: briefings, and somebody's word that they heard one.
func (s *Service) QueueSummaries(b *pgx.Batch, into journal.Summaries, entries map[journal.Kind][]uuid.UUID) {
	journal.QueueSummaries(b, into, entries[journal.Briefing], `SELECT b.id, b.check_every_s,
			(SELECT count(*) FROM briefing_person x WHERE x.centre_id = b.centre_id AND x.briefing_id = b.id) AS people
		FROM briefing b
		WHERE b.centre_id = app_centre() AND b.id = w.id`, briefingSummary.say)
	journal.QueueSummaries(b, into, entries[journal.Acknowledgement], `SELECT a.id, n.name, a.how
		FROM acknowledgement a
		JOIN people_person n ON n.centre_id = a.centre_id AND n.id = a.person_id
		WHERE a.centre_id = app_centre() AND a.id = w.id`, heardSummary.say)
}

// briefingSummary is a briefing.
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

// heardSummary is an acknowledgement of a briefing.
type heardSummary struct {
	ID        uuid.UUID
	Name, How string
}

func (h heardSummary) say() (uuid.UUID, string) {
	how := map[string]string{"gave_it": "gave it", "own_token": "acknowledged it themselves",
		"said_so":   "said so",
		"signalled": "signalled it", "wrote": "wrote it"}[h.How]
	return h.ID, fmt.Sprintf("Briefing heard: %s %s.", h.Name, how)
}
