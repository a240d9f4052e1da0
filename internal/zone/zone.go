// Package zone knows time zones by their IANA names, from the copy of the
// database that the program carries, whatever the machine has.
//
// It must not know what is planned in a zone.
package zone

import (
	"fmt"
	"time"
	_ "time/tzdata" // a bare machine may have no time zone database

	"tankside/internal/fault"
)

// Load gives the location of an IANA name. The process's own zone has no name
// and is not taken.
func Load(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fmt.Errorf("%q is not the name of a time zone", name)
	}
	return time.LoadLocation(name)
}

// Check gives a Malformed fault unless the name at the pointer is a time zone.
func Check(name, pointer string) error {
	if _, err := Load(name); err != nil {
		return fault.Invalid(pointer, fmt.Sprintf("%q is not in the IANA time zone database; a name looks like Europe/Lisbon.", name))
	}
	return nil
}
