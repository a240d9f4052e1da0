// Package nostopform reads questions about no-stop limits from the types of the contract, and
// writes the results of package nostop in them: for the API, for a person's day, and for the
// command "tankside nostop".
//
// It owns the conversion. It must not know a table or a rule of diving: package nostop decides.
package nostopform

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/form"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// Layout is the form of a time by the clock of the place.
const Layout = "2006-01-02T15:04"

// Asked is a question about no-stop limits.
type Asked struct {
	Dives []nostop.Dive
	// the dives have times by the clock of the place; otherwise only intervals have a meaning
	Clock    bool
	LookUp   *LookUp
	Cabin    units.Reading  // zero: nostop.Cabin
	Altitude *units.Reading // where to go up to by road or on foot; nil: each thousand feet
	Leave    *time.Time     // when to fly, or to go up to Altitude
	Settings nostop.Settings
}

// LookUp is one depth to look up, for a person who starts in a group.
type LookUp struct {
	Depth    units.Reading
	Altitude units.Reading // of the site; zero: the sea
	Group    nostop.Group
}

// Read reads a request that keeps the contract. The error is a fault that points at members that
// contradict each other.
func Read(in api.NoStopInput) (Asked, error) {
	a := Asked{Cabin: nostop.Cabin}
	if in.Cabin != nil {
		a.Cabin = form.Reading(*in.Cabin)
	}
	if in.Altitude != nil {
		a.Altitude = new(form.Reading(*in.Altitude))
	}
	if in.Settings != nil {
		a.Settings = settings(*in.Settings)
	}
	if in.LookUp != nil {
		l, err := lookUp(*in.LookUp)
		if err != nil {
			return a, err
		}
		a.LookUp = &l
	}
	if in.Dives != nil {
		if err := a.readDives(*in.Dives); err != nil {
			return a, err
		}
	}
	switch {
	case in.Dives == nil && in.LookUp == nil:
		return a, fault.Invalid("", "Nothing was asked: give dives, or a depth to look up.")
	case in.Dives == nil && in.Altitude != nil:
		return a, fault.Invalid("/altitude",
			"This is how high to go up after dives, and there are none. The altitude of the site is said "+
				"in look_up.")
	case in.Dives == nil && in.Cabin != nil:
		return a, fault.Invalid("/cabin", "The cabin matters for flying after dives, and there are none.")
	}
	return a, a.readLeave(in.LeaveLocal)
}

func settings(in api.NoStopSettings) nostop.Settings {
	var set nostop.Settings
	if in.NoStopMargin != nil {
		set.Margin = nostop.Minutes(units.RoundUp(form.Reading(*in.NoStopMargin).Minutes(), 1))
	}
	if in.DivesADay != nil {
		set.DivesADay = *in.DivesADay
	}
	if in.AscentsADay != nil {
		set.AscentsDay = *in.AscentsADay
	}
	if in.ByTheFoot != nil {
		set.ByTheFoot = *in.ByTheFoot
	}
	return set
}

func lookUp(in api.NoStopLookUp) (l LookUp, err error) {
	l.Depth = form.Reading(in.Depth)
	if l.Depth.Value <= 0 {
		return l, fault.Invalid("/look_up/depth", "A depth of nothing has no row: give one of more than 0.")
	}
	if in.Altitude != nil {
		l.Altitude = form.Reading(*in.Altitude)
	}
	if in.Group != nil {
		if l.Group, err = nostop.ParseGroup(*in.Group); err != nil {
			return l, fault.Invalid("/look_up/group",
				"The group is not one of the tables: {group}.", *in.Group)
		}
	}
	return l, nil
}

func (a *Asked) readLeave(at *string) error {
	if at == nil {
		return nil
	}
	if len(a.Dives) == 0 || !a.Clock {
		return fault.Invalid("/leave_local",
			"A time to leave needs dives with times by the clock: give the first one in_local.")
	}
	leave, err := clock(*at, "/leave_local")
	a.Leave = &leave
	return err
}

// clock reads a time by the clock of the place. All times of a request have one offset, so that
// they can be read as UTC.
func clock(s, pointer string) (time.Time, error) {
	t, err := time.Parse(Layout, s)
	if err != nil {
		return t, fault.Invalid(pointer, `"{local}" is no date and time like 2027-06-05T08:30.`, s)
	}
	return t, nil
}

// noClock is the start of a sequence without clock times: the start of a day, so that as many dives
// as possible are of one day.
var noClock = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// readDives reads the sequence. Dives that are done replace the planned ones with the same key.
func (a *Asked) readDives(in []api.NoStopInputDive) error {
	a.Clock = in[0].InLocal != nil
	var planned, done []nostop.Dive
	last := noClock
	for i, one := range in {
		d, err := a.readDive(one, i, last)
		if err != nil {
			return err
		}
		last = d.Out
		list := &planned
		if d.Done {
			list = &done
		}
		if slices.ContainsFunc(*list, func(o nostop.Dive) bool { return o.Key == d.Key }) {
			return fault.Invalid(fmt.Sprintf("/dives/%d/key", i),
				`Another dive has the key "{key}". Only a planned dive and the same one as it was done `+
					"share a key.", d.Key)
		}
		*list = append(*list, d)
	}
	a.Dives = nostop.Latest(planned, done)
	return nil
}

func (a *Asked) readDive(in api.NoStopInputDive, i int, last time.Time) (d nostop.Dive, err error) {
	at := fmt.Sprintf("/dives/%d", i)
	d = nostop.Dive{Key: strconv.Itoa(i + 1), Depth: form.Reading(in.Depth), Ascents: 1,
		Done: in.Done != nil && *in.Done}
	if in.Key != nil {
		d.Key = *in.Key
	}
	if in.Ascents != nil {
		d.Ascents = *in.Ascents
	}
	if in.Altitude != nil {
		d.Altitude = form.Reading(*in.Altitude)
	}
	if d.In, err = a.timeIn(in, i, last, at); err != nil {
		return d, err
	}
	switch {
	case (in.OutLocal == nil) == (in.UnderTime == nil):
		return d, fault.Invalid(at, "Say when the dive ends, once: by out_local or by under_time.")
	case in.UnderTime != nil:
		d.Out = d.In.Add(duration(*in.UnderTime))
	case !a.Clock:
		return d, fault.Invalid(at+"/out_local",
			"The first dive has no clock time: give each dive its under_time.")
	default:
		d.Out, err = clock(*in.OutLocal, at+"/out_local")
	}
	return d, err
}

// timeIn returns the time in of a dive, where last is the time out of the one before.
func (a *Asked) timeIn(in api.NoStopInputDive, i int, last time.Time, at string) (time.Time, error) {
	switch {
	case i == 0 && in.SurfaceInterval != nil:
		return last, fault.Invalid(at+"/surface_interval",
			"Before the first dive there is no surface interval: add the dive that it counts from.")
	case in.InLocal != nil && in.SurfaceInterval != nil:
		return last, fault.Invalid(at, "Say when the dive begins, once: by in_local or by surface_interval.")
	case in.InLocal != nil && !a.Clock:
		return last, fault.Invalid(at+"/in_local",
			"The first dive has no clock time: give this one its surface_interval, or the first one in_local.")
	case in.InLocal != nil:
		return clock(*in.InLocal, at+"/in_local")
	case in.SurfaceInterval != nil:
		return last.Add(duration(*in.SurfaceInterval)), nil
	case i == 0:
		return last, nil
	}
	return last, fault.Invalid(at, "Say when the dive begins: by in_local or by surface_interval.")
}

func duration(q api.Quantity) time.Duration {
	return time.Duration(form.Reading(q).Minutes() * float64(time.Minute))
}

// Answer is the tables' answer to a question.
type Answer struct {
	Asked
	Plan     nostop.Plan
	Flying   nostop.Wait
	GoingUp  []nostop.Wait
	Row      *nostop.Residual // of the depth looked up; nil: none was asked, or it is outside the table
	Findings finding.List     // all of them
}

// Judge answers the question.
func (a Asked) Judge() Answer {
	out := Answer{Asked: a}
	if a.LookUp != nil {
		out.lookUp()
	}
	if len(a.Dives) == 0 {
		return out
	}
	if a.Cabin.IsZero() {
		out.Cabin = nostop.Cabin
	}
	out.Plan = nostop.Judge(a.Dives, a.Settings)
	out.Flying = out.Plan.BeforeFlying(out.Cabin)
	out.GoingUp = out.Plan.BeforeAltitudes()
	if a.Altitude != nil {
		out.GoingUp = []nostop.Wait{out.Plan.BeforeAltitude(*a.Altitude)}
	}
	if a.Leave != nil && a.Altitude == nil {
		out.Flying.Findings = out.Flying.At(*a.Leave)
	} else if a.Leave != nil {
		out.GoingUp[0].Findings = out.GoingUp[0].At(*a.Leave)
	}
	out.Findings = append(out.Findings, out.Plan.Findings()...)
	out.Findings = append(out.Findings, out.Flying.Findings...)
	if a.Altitude != nil {
		out.Findings = append(out.Findings, out.GoingUp[0].Findings...)
	}
	return out
}

func (a *Answer) lookUp() {
	depth := a.LookUp.Depth
	if f, is := nostop.Outside("A dive to "+depth.String(), depth, a.LookUp.Altitude); is {
		a.Findings = append(a.Findings, f)
		return
	}
	row, _ := nostop.RowAt(depth.Depth()) // the tables have one for every depth that is not outside of them
	res := nostop.ResidualNitrogen(a.LookUp.Group, row)
	foot, shallow := nostop.ShallowRowAt(depth.Depth())
	if shallow && a.Settings.ByTheFoot && a.LookUp.Group == nostop.None {
		res.Row = foot
	}
	a.Row = &res
}
