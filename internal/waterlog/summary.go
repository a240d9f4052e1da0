package waterlog

import (
	"fmt"

	"tankside/internal/units"
)

// ofParticipant joins the name to a row d of a participant, and the number of its
// dive, which may be null.
const ofParticipant = `
	JOIN sessions_participant p ON p.centre_id = d.centre_id AND p.id = d.participant_id
	JOIN people_person n ON n.centre_id = p.centre_id AND n.id = p.person_id
	LEFT JOIN sessions_dive v ON v.centre_id = d.centre_id AND v.id = d.dive_id `

const thisOne = `
	WHERE d.centre_id = app_centre() AND d.id = w.id`

// at returns the words for a reading, with what leads to it, "" for none.
func at(before string, r *units.Reading) string {
	if r != nil {
		return before + r.String()
	}
	return ""
}

func onDiveNumber(on string, n *int) string {
	if n == nil {
		return ""
	}
	return fmt.Sprintf("%s dive %d", on, *n)
}
