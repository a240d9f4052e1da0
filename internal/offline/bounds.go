package offline

import (
	"cmp"
	"fmt"

	"tankside/internal/fault"
)

// Bounds are how many entries from the water may wait at once. Batches that meet
// at the same moment may each be let in by the last place.
type Bounds struct {
	Held       int // of one token: held, or refused within a day
	CentreHeld int // held of one centre
}

// usual are the bounds where none are set, our choice: a token's are ten full
// batches, of which ordinarily next to nothing waits.
var usual = Bounds{Held: 2000, CentreHeld: 20_000}

// Bound sets the bounds that are not 0, before the service is used.
func (s *Service) Bound(b Bounds) {
	s.bounds = Bounds{Held: cmp.Or(b.Held, s.bounds.Held),
		CentreHeld: cmp.Or(b.CentreHeld, s.bounds.CentreHeld)}
}

// waitingNow is how many entries wait: held of one token or refused within a day, and
// held of the centre.
type waitingNow struct{ OfToken, OfCentre int }

const waitingSQL = `SELECT COALESCE(sum(h.held) FILTER (WHERE h.token_id = @token), 0)::bigint + (
			SELECT count(*)
			FROM water_batch t
			JOIN water_entry r ON r.centre_id = t.centre_id AND r.batch_id = t.id AND r.state = 'refused'
			WHERE t.centre_id = app_centre() AND t.token_id = @token
				AND t.received_at > app_now() - interval '1 day') AS of_token,
		COALESCE(sum(h.held), 0)::bigint AS of_centre
	FROM water_held h
	WHERE h.centre_id = app_centre()`

// roomFor refuses a batch with so many new entries before anything of it is
// kept: the device has them still, and sends them again.
func (b Bounds) roomFor(held waitingNow, fresh int) error {
	switch {
	case held.OfToken+fresh > b.Held:
		return fault.New(fault.TooMany, "too_many_waiting",
			fmt.Sprintf("%d entries of this token wait or were refused within a day, and %d more are in this batch; "+
				"at most %d are kept. Nothing of the batch was taken. Cure or drop what waits, then send it again.", held.OfToken, fresh, b.Held)).
			Param("found", held.OfToken).Param("fresh", fresh).Param("limit", b.Held)
	case held.OfCentre+fresh > b.CentreHeld:
		return fault.New(fault.TooMany, "too_many_waiting",
			fmt.Sprintf("%d entries of the centre wait, and %d more are in this batch; "+
				"at most %d are kept. Nothing of the batch was taken. Cure or drop what waits, then send it again.", held.OfCentre, fresh, b.CentreHeld)).
			Param("found", held.OfCentre).Param("fresh", fresh).Param("limit", b.CentreHeld)
	}
	return nil
}
