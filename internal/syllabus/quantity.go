package syllabus

import (
	"fmt"
	"strconv"
	"strings"

	"tankside/internal/finding"
	"tankside/internal/units"
)

// Quantity is a limit or a measured value: a number with its unit ("60 s", "200 m"), or a plain
// count without one ("3"). The zero Quantity means none. A units.Reading converts to it directly.
type Quantity struct {
	Value units.Decimal
	Unit  units.Unit // "" for a count
}

// QuantityOf returns the quantity of x in unit u, to two decimals.
func QuantityOf(x float64, u units.Unit) Quantity { return Quantity(units.Read(x, u)) }

// CountOf returns a plain count: 3 times.
func CountOf(n int) Quantity { return Quantity{Value: units.Decimal(n * 100)} }

// IsZero reports whether there is no quantity.
func (q Quantity) IsZero() bool { return q == Quantity{} }

// String returns the quantity as a person writes it: "60 s", "3".
func (q Quantity) String() string {
	if q.Unit == "" {
		return q.Value.String()
	}
	return units.Reading(q).String()
}

// MarshalText returns the quantity in the form that UnmarshalText reads, "" for none.
func (q Quantity) MarshalText() ([]byte, error) {
	if q.IsZero() {
		return nil, nil
	}
	return []byte(strings.TrimSpace(q.Value.String() + " " + string(q.Unit))), nil
}

// UnmarshalText reads "60 s", "9 m/min" or "3"; an unknown unit is an error.
func (q *Quantity) UnmarshalText(text []byte) error {
	s := strings.TrimSpace(string(text))
	if s == "" {
		*q = Quantity{}
		return nil
	}
	if n, err := strconv.Atoi(s); err == nil && n >= 0 && n < 1e6 {
		*q = CountOf(n)
		return nil
	}
	r, err := units.ParseReading(s)
	if err != nil {
		return fmt.Errorf("want a quantity like \"60 s\" or a count like \"3\": %w", err)
	}
	*q = Quantity(r)
	return nil
}

// sameKind reports whether the two can be compared: both are counts, or both of one known
// dimension.
func (q Quantity) sameKind(o Quantity) bool {
	if q.Unit == "" || o.Unit == "" {
		return q.Unit == o.Unit
	}
	return q.Unit.Dimension() != "" && q.Unit.Dimension() == o.Unit.Dimension()
}

// compare returns a negative number, 0 or a positive number as q is less than, equal to or more
// than o, which is of the same kind.
func (q Quantity) compare(o Quantity) int {
	if q.Unit == "" {
		return int(q.Value - o.Value)
	}
	return units.Reading(q).Compare(units.Reading(o))
}

// is reports whether the quantity is of the dimension and above zero.
func (q Quantity) is(d units.Dimension) bool { return q.Unit.Dimension() == d && q.Value > 0 }

// amount returns the quantity as a finding shows it.
func (q Quantity) amount() *finding.Amount {
	if q.Unit == "" {
		return finding.Count(int(q.Value)/100, "times")
	}
	return finding.Quantity(units.Reading(q))
}
