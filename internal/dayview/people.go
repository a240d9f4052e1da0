package dayview

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/gas"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
	"tankside/internal/units"
	"tankside/internal/when"
)

// Centre is what the rules ask about a centre.
type Centre struct {
	TimeZone      string
	GaugeUnit     string
	AgeOfMajority int
	RuleBooks     []string
	OwnBook       *ratio.Book // nil for none
	CrewPapers    []roster.Kind
	StudentPapers []roster.Kind
	MedicalMonths int
	GasSettings   []byte // JSON, as package plans stores them; nil where the centre has set none

	Floor         *units.Reading // for open water; nil where the centre has set none
	ConfinedFloor *units.Reading // likewise, for confined water
}

// Floors returns the pressures below which the centre lets nobody stay in the water, by
// its kind: zero where it has set none.
func (c Centre) Floors() (f gas.Floors) {
	if c.Floor != nil {
		f.Open = *c.Floor
	}
	if c.ConfinedFloor != nil {
		f.Confined = *c.ConfinedFloor
	}
	return f
}

// Demands returns what the centre asks of people on a day.
func (c Centre) Demands(day time.Time) roster.Demands {
	return roster.Demands{CrewPapers: c.CrewPapers, StudentPapers: c.StudentPapers, Majority: c.AgeOfMajority,
		MedicalSince: roster.Day(day.AddDate(0, -c.MedicalMonths, 0).Format(time.DateOnly))}
}

// Books returns the ratio books that the centre applies.
func (c Centre) Books() ([]ratio.Book, error) { return ratio.Applied(c.RuleBooks, c.OwnBook) }

// Person is a person with papers and fitness, as on the day of a session.
type Person struct {
	roster.Person
	BirthOn   time.Time
	Roles     []string
	GaugeUnit units.Unit
}

// Is reports whether the person has a role of the centre, such as "manager".
func (p Person) Is(role string) bool { return slices.Contains(p.Roles, role) }

// ReadCentre reads the centre of the transaction.
func ReadCentre(ctx context.Context, tx *pg.Tx) (Centre, error) {
	c, err := pg.Row[Centre](ctx, tx, centreSQL, pgx.StrictNamedArgs{})
	if err != nil {
		err = fmt.Errorf("read centre: %w", err)
	}
	return c, err
}

// ReadPeople reads persons by their ids, with papers and fitness as on a day.
func ReadPeople(ctx context.Context, tx *pg.Tx, ids []uuid.UUID, day time.Time) (map[uuid.UUID]Person, error) {
	rows, err := pg.Rows[personRow](ctx, tx, personsSQL, pgx.StrictNamedArgs{"ids": ids, "day": day})
	out := make(map[uuid.UUID]Person, len(rows))
	for _, r := range rows {
		out[r.ID] = r.person(day)
	}
	return out, err
}

// personRow is a person as read, with papers and fitness as on a day.
type personRow struct {
	SessionID *uuid.UUID // nil of a person who is read by themselves
	ID        uuid.UUID
	Name      string
	BirthOn   time.Time
	GaugeUnit units.Unit
	Roles     []string
	Unfit     bool
	Papers    []struct {
		ID         string  `json:"id"`
		Kind       string  `json:"kind"`
		Outcome    string  `json:"outcome"`
		IssuedOn   string  `json:"issued_on"`
		ValidUntil *string `json:"valid_until"`
	}
}

func (r personRow) person(day time.Time) Person {
	p := Person{Roles: r.Roles, GaugeUnit: r.GaugeUnit, BirthOn: r.BirthOn,
		Person: roster.Person{ID: r.ID.String(), Name: r.Name, Age: when.Age(r.BirthOn, day), Unfit: r.Unfit}}
	for _, x := range r.Papers {
		paper := roster.Paper{ID: x.ID, Kind: roster.Kind(x.Kind), Outcome: x.Outcome,
			IssuedOn: roster.Day(x.IssuedOn)}
		if x.ValidUntil != nil {
			paper.ValidUntil = roster.Day(*x.ValidUntil)
		}
		p.Papers = append(p.Papers, paper)
	}
	return p
}
