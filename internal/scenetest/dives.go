package scenetest

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/units"
)

// Dive is a dive to be logged for a participant. What is nil was not recorded.
type Dive struct {
	Participant, Dive uuid.UUID
	In, Out           time.Time // Out zero: no time out
	Depth             *units.Reading
	Size, Rating      *units.Reading // of the cylinder
	Start, End        *units.Reading // pressures
	Checks            []GasCheck
}

// GasCheck is a gas check during a dive.
type GasCheck struct {
	At        time.Time
	Depth     *units.Reading
	Reading   units.Reading
	NamesDive bool // whether the check names its dive
}

// LogDive writes a dive with its gas checks, witnessed by a person who has a token, and
// returns the ids of its start and its end.
func (s *Fixture) LogDive(witness uuid.UUID, d Dive) (start, end uuid.UUID) {
	s.t.Helper()
	start, end = uuid.New(), uuid.New()
	s.entry(start, "time_in", witness, d.Participant, d.In)
	args := pgx.NamedArgs{"id": start, "dive": d.Dive, "part": d.Participant}
	args["size"] = d.Size
	args["rating"] = d.Rating
	args["start"] = d.Start
	s.Exec(`INSERT INTO time_in (centre_id, id, dive_id, participant_id,
			size, rating, start_pressure)
		VALUES (@centre, @id, @dive, @part, @size, @rating, @start)`, args)
	if !d.Out.IsZero() {
		s.entry(end, "time_out", witness, d.Participant, d.Out)
		args := pgx.NamedArgs{"id": end, "start": start}
		args["depth"] = d.Depth
		args["end"] = d.End
		s.Exec(`INSERT INTO time_out (centre_id, id, time_in_id, depth, end_pressure)
			VALUES (@centre, @id, @start, @depth, @end)`, args)
	}
	for _, c := range d.Checks {
		id := uuid.New()
		s.entry(id, "gas_check", witness, d.Participant, c.At)
		args := pgx.NamedArgs{"id": id, "part": d.Participant, "dive": nil}
		if c.NamesDive {
			args["dive"] = d.Dive
		}
		args["depth"] = c.Depth
		args["reading"] = &c.Reading
		s.Exec(`INSERT INTO gas_check (centre_id, id, participant_id, dive_id, depth, reading, verdict)
			VALUES (@centre, @id, @part, @dive, @depth, @reading, 'unverified')`, args)
	}
	return start, end
}

// entry writes the entry of a witnessed fact about a participant.
func (s *Fixture) entry(id uuid.UUID, kind string, witness, participant uuid.UUID, at time.Time) {
	s.t.Helper()
	s.Exec(`INSERT INTO entry (centre_id, id, kind, session_id, participant_id, witnessed_by, token_id,
			witnessed_at, recorded_at, body_digest)
		SELECT @centre, @id, @kind, p.session_id, p.id, @who, (SELECT id FROM token WHERE person_id = @who),
			@at, @now, ''
		FROM participant p
		WHERE p.id = @part`,
		pgx.NamedArgs{"id": id, "kind": kind, "who": witness, "at": at, "part": participant})
}
