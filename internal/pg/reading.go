package pg

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5/pgtype"

	"tankside/internal/units"
)

// A units.Reading is stored as it was read, in one column of the composite type reading
// (value, unit) or of a domain over it: pressure, depth, volume, speed, temperature. As
// JSON, which jsonb_to_recordset and to_jsonb read and write, it is {"value", "unit"}, the
// same as units.Reading makes of itself. Queries take and return a units.Reading, or a
// *units.Reading where the column may be null.
//
// The types are not registered with the driver: their object ids differ from one database
// to the next, and a connection may be older than the migration that made them. So they
// are sent and received as text, (187.5,bar).

// learnReadings lets a connection read and write units.Reading.
func learnReadings(m *pgtype.Map) {
	m.TryWrapEncodePlanFuncs = append([]pgtype.TryWrapEncodePlanFunc{wrapReading},
		m.TryWrapEncodePlanFuncs...)
	m.TryWrapScanPlanFuncs = append([]pgtype.TryWrapScanPlanFunc{wrapReadingTarget},
		m.TryWrapScanPlanFuncs...)
}

func wrapReading(value any) (pgtype.WrappedEncodePlanNextSetter, any, bool) {
	r, ok := value.(units.Reading)
	if !ok {
		return nil, nil, false
	}
	return &readingEncoder{}, compositeText(r), true
}

// readingEncoder sends a reading as the text of a composite value.
type readingEncoder struct{ next pgtype.EncodePlan }

func (e *readingEncoder) SetNext(next pgtype.EncodePlan) { e.next = next }

func (e *readingEncoder) Encode(value any, buf []byte) ([]byte, error) {
	return e.next.Encode(compositeText(value.(units.Reading)), buf)
}

func wrapReadingTarget(target any) (pgtype.WrappedScanPlanNextSetter, any, bool) {
	if _, ok := target.(*units.Reading); !ok {
		return nil, nil, false
	}
	return &readingDecoder{}, new(string), true
}

// readingDecoder reads the text of a composite value.
type readingDecoder struct{ next pgtype.ScanPlan }

func (d *readingDecoder) SetNext(next pgtype.ScanPlan) { d.next = next }

func (d *readingDecoder) Scan(src []byte, target any) error {
	var text string
	if err := d.next.Scan(src, &text); err != nil {
		return err
	}
	r, err := parseComposite(text)
	if err == nil {
		*target.(*units.Reading) = r
	}
	return err
}

// compositeText returns a reading as PostgreSQL writes it: "(187.5,bar)".
func compositeText(r units.Reading) string {
	return "(" + r.Value.String() + "," + string(r.Unit) + ")"
}

// parseComposite is the inverse of compositeText.
func parseComposite(text string) (units.Reading, error) {
	value, unit, ok := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(text, "("), ")"), ",")
	x, err := strconv.ParseFloat(value, 64)
	if !ok || err != nil || !units.Unit(unit).Known() {
		return units.Reading{}, fmt.Errorf("%q is not a stored reading: want (value,unit)", text)
	}
	return units.Read(x, units.Unit(unit)), nil
}
