// Package assessment keeps what was assessed: theory results, credits, sign-offs and
// completions, and what follows from them, progress and the record.
//
// It owns the tables theory_result, credit, credit_void, sign_off, sign_off_void,
// completion and completion_void. It must not judge: package syllabus judges everything
// that is learned, by what package standing reads. It must not know how people, courses
// and sessions are kept; it reads them through their views.
package assessment

import (
	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/standing"
)

// Service keeps what was assessed.
type Service struct {
	db        *pg.DB
	standings *standing.Reader
}

// New returns the service on a database.
func New(db *pg.DB, standings *standing.Reader) *Service {
	db.MapConstraints(map[string]func() *fault.Fault{
		"sign_off_once_a_round": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_signed_off",
				"The skill was signed off while this request was judged. Read the progress again.")
		},
		"completion_once_a_round": func() *fault.Fault {
			return fault.New(fault.Conflict, "already_completed",
				"The enrolment was completed while this request was judged. Read it again.")
		},
	})
	return &Service{db: db, standings: standings}
}
