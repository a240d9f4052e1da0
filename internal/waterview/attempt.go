package waterview

import (
	"github.com/google/uuid"

	"tankside/internal/journal"
	"tankside/internal/syllabus"
)

// Attempt is an attempt as it was recorded.
type Attempt struct {
	journal.Head
	DiveID   *uuid.UUID
	Skill    string
	Role     *string
	Measures map[string]syllabus.Quantity
	Claimed  bool
	Met      bool
	Reason   *string
}

const attemptsFrom = `SELECT ` + journal.Columns +
	`, d.dive_id, d.skill, d.role, d.measures, d.claimed, d.met, d.reason
	FROM drill_attempt d JOIN journal_entry e ON e.centre_id = d.centre_id AND e.id = d.id `
