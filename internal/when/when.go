// Package when turns planned local times into instants and instants into days.
//
// It owns the meaning of a wall-clock time in a zone, with the two hours a year that are skipped or
// doubled. It must not know what is planned. The zone data is built in, since the host may lack it;
// SQL never computes local time.
package when

import (
	"time"
	_ "time/tzdata" // the host may have no zone data of its own

	"tankside/internal/fault"
)

// Layout is the form of a local time; seconds are optional and zero.
const Layout = "2006-01-02T15:04"

// DayLayout is the form of a day.
const DayLayout = time.DateOnly

// Zone returns the IANA time zone of that name. The fault for an unknown name carries pointer, its
// place in the body.
func Zone(name, pointer string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fault.Invalid(pointer,
			`"{zone}" is no IANA time zone; want one like "Europe/Lisbon".`, name)
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		return nil, fault.Invalid(pointer,
			`"{zone}" is no IANA time zone; want one like "Europe/Lisbon".`, name).Because(err)
	}
	return z, nil
}

// CheckZone returns a fault unless the name is an IANA time zone.
func CheckZone(name, pointer string) error {
	_, err := Zone(name, pointer)
	return err
}

// Planned is a local time in a zone, with its instant.
type Planned struct {
	Local time.Time // the wall-clock time, its fields in UTC
	At    time.Time // the instant, in UTC
}

// Day returns the local day, as 2006-01-02.
func (p Planned) Day() string { return p.Local.Format(DayLayout) }

// Parse reads a local time such as "2026-06-06T09:00". It refuses a time that the clock change
// skips. It refuses one that the clock change doubles unless offset, such as "+02:00", names one of
// the two. The fault carries pointer, the time's place in the body.
func Parse(local string, zone *time.Location, offset *string, pointer string) (Planned, error) {
	wall, err := time.ParseInLocation(Layout, local, time.UTC)
	if err != nil {
		if wall, err = time.ParseInLocation(Layout+":05", local, time.UTC); err != nil {
			return Planned{}, fault.Invalid(pointer,
				`"{local}" is no local time; want one like "2026-06-06T09:00".`, local)
		}
	}
	at := instants(wall, zone)
	switch {
	case len(at) == 0:
		return Planned{}, fault.Invalid(pointer,
			"The clock in {zone} never shows {local}: the change to summer time skips it. Choose a time before "+
				"or after.", zone, local)
	case len(at) == 1 && offset == nil:
		return Planned{wall, at[0].UTC()}, nil
	}
	return pick(wall, at, zone, local, offset, pointer)
}

func pick(
	wall time.Time, at []time.Time, zone *time.Location, local string, offset *string, pointer string,
) (Planned, error) {
	var have []string
	for _, t := range at {
		o := t.Format("-07:00")
		if offset != nil && o == *offset {
			return Planned{wall, t.UTC()}, nil
		}
		have = append(have, o)
	}
	if offset == nil {
		return Planned{}, fault.Invalid(pointer,
			"The clock in {zone} shows {local} twice: say in utc_offset which is meant, {first} or {second}.",
			zone, local, have[0], have[1])
	}
	return Planned{}, fault.Invalid(pointer,
		"{local} in {zone} is not at utc_offset {given} but at {found}.", local, zone, *offset, have[0])
}

// instants returns the instants at which the clock in the zone shows that time, earliest first:
// none when it is skipped, two when it is doubled.
func instants(wall time.Time, zone *time.Location) []time.Time {
	var out []time.Time
	for _, around := range []time.Duration{-26 * time.Hour, 26 * time.Hour} {
		_, offset := wall.Add(around).In(zone).Zone()
		t := wall.Add(-time.Duration(offset) * time.Second).In(zone)
		if t.Format(Layout+":05") == wall.Format(Layout+":05") && (len(out) == 0 || !out[0].Equal(t)) {
			out = append(out, t)
		}
	}
	return out
}

// Age returns the completed years from the birth date to the day.
func Age(birth, day time.Time) int {
	years := day.Year() - birth.Year()
	if day.Month() < birth.Month() || day.Month() == birth.Month() && day.Day() < birth.Day() {
		years--
	}
	return years
}

// DayOf returns the local day of an instant in a zone, at midnight UTC, as dates are stored.
func DayOf(at time.Time, zone *time.Location) time.Time {
	y, m, d := at.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
