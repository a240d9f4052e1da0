package gasplan

import (
	"cmp"
	"time"

	"github.com/google/uuid"

	"tankside/internal/gas"
	"tankside/internal/nostop"
	"tankside/internal/units"
)

// Quantity is a value with its unit, as it was read and as it is stored.
type Quantity struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// Of returns the quantity of a reading.
func Of(r units.Reading) Quantity { return Quantity{r.Value.Float(), string(r.Unit)} }

// Reading returns the quantity as a reading; its unit need not be a known one.
func (q Quantity) Reading() units.Reading { return units.Read(q.Value, units.Unit(q.Unit)) }

// Input is what the gas of a group is planned from. It is stored as JSON and
// recomputes to the same Result. What is left out means what Filled puts there.
type Input struct {
	Dive     DiveInput    `json:"dive"`
	Divers   []DiverInput `json:"divers"`
	Settings GasSettings  `json:"settings"`
	Centre   *GasSettings `json:"centre_settings,omitempty"` // as set by the centre where it is planned; nil: at none
}

// DiveInput is the dive that is meant.
type DiveInput struct {
	Depth            Quantity   `json:"depth"`                // deepest point
	MeanDepth        *Quantity  `json:"mean_depth,omitempty"` // until the ascent; nil: the deepest point
	PlannedTime      Quantity   `json:"planned_time"`         // from leaving the surface to the start of the ascent
	LeastTime        *Quantity  `json:"least_time,omitempty"` // from time in to time out, for the dive to count; nil: none
	SiteMaxDepth     *Quantity  `json:"site_max_depth,omitempty"`
	Altitude         *Quantity  `json:"altitude,omitempty"` // of the site; nil: the sea
	Water            string     `json:"water,omitempty"`    // salt or fresh; "": salt
	Visibility       *Quantity  `json:"visibility,omitempty"`
	Current          *Quantity  `json:"current,omitempty"`
	WaterTemperature *Quantity  `json:"water_temperature,omitempty"`
	StartsAt         *time.Time `json:"starts_at,omitempty"` // its offset says which day it is there
	Ascents          int        `json:"ascents,omitempty"`   // of everybody during it; 0: one
}

// CylinderInput is one diver's supply: a water volume, or a capacity at a rated
// pressure.
type CylinderInput struct {
	WaterVolume     *Quantity `json:"water_volume,omitempty"`
	WorkingPressure *Quantity `json:"working_pressure,omitempty"`
	RatedCapacity   *Quantity `json:"rated_capacity,omitempty"`
	RatedPressure   *Quantity `json:"rated_pressure,omitempty"`
	RatedBy         string    `json:"rated_by,omitempty"` // ideal or real; "": ideal, the smaller cylinder of the two
	Count           int       `json:"count,omitempty"`    // 2: twins; 0: one
}

// DepthLimit is one person's greatest depth, and why.
type DepthLimit struct {
	Depth   Quantity `json:"depth"`
	Because string   `json:"because"`
	Source  string   `json:"source,omitempty"`
}

// EarlierDive is a dive that somebody has made in the last 48 h.
type EarlierDive struct {
	Depth    Quantity  `json:"depth"`
	InAt     time.Time `json:"in_at"`
	OutAt    time.Time `json:"out_at"`
	Ascents  int       `json:"ascents,omitempty"` // 0: one
	Altitude *Quantity `json:"altitude,omitempty"`
}

// DiverInput is one person of the group, student or crew.
type DiverInput struct {
	Key           string        `json:"key"` // names the person within the plan
	ParticipantID *uuid.UUID    `json:"participant_id,omitempty"`
	Name          string        `json:"name,omitempty"` // "": the key
	Cylinder      CylinderInput `json:"cylinder"`
	Oxygen        *Quantity     `json:"oxygen,omitempty"` // nil: air
	Start         Quantity      `json:"start"`            // as read
	FilledAt      *Quantity     `json:"filled_at,omitempty"`
	GaugeUnit     string        `json:"gauge_unit,omitempty"`     // "": that of Start
	BreathingRate *Quantity     `json:"breathing_rate,omitempty"` // nil: gas.NoviceRate
	RateFrom      string        `json:"rate_from,omitempty"`      // from what it is known; "": given, or the novice's
	Told          *Quantity     `json:"-"`                        // low-gas pressure told in a briefing, which is judged and not planned
	Team          string        `json:"team,omitempty"`           // "": gas is shared with anybody
	DepthLimits   []DepthLimit  `json:"depth_limits,omitempty"`
	OxygenToday   *Quantity     `json:"oxygen_today,omitempty"` // of the limit for 24 h
	EarlierDives  []EarlierDive `json:"earlier_dives,omitempty"`
}

// GasSettings is how gas is planned; what is nil or zero is left to whoever
// fills it in.
type GasSettings struct {
	Law          string    `json:"law,omitempty"` // real or ideal
	Stress       float64   `json:"stress,omitempty"`
	SortOut      *Quantity `json:"sort_out,omitempty"`
	AscentSpeed  *Quantity `json:"ascent_speed,omitempty"`
	StopDepth    *Quantity `json:"stop_depth,omitempty"`
	StopTime     *Quantity `json:"stop_time,omitempty"`
	Reserve      *Quantity `json:"reserve,omitempty"`
	Floor        *Quantity `json:"floor,omitempty"`
	TurnRule     string    `json:"turn_rule,omitempty"` // all_usable, halves or thirds
	OxygenLimit  *Quantity `json:"oxygen_limit,omitempty"`
	NoStopMargin *Quantity `json:"no_stop_margin,omitempty"`
	DivesADay    int       `json:"dives_a_day,omitempty"`
	AscentsADay  int       `json:"ascents_a_day,omitempty"`
}

// DefaultGasSettings returns the settings used where nobody set others: those of
// gas.DefaultSettings and of package nostop, which say where they come from.
func DefaultGasSettings() GasSettings {
	s, day := gas.DefaultSettings(), nostop.Judge(nil, nostop.Settings{}).Settings
	of := func(x float64, u units.Unit) *Quantity { return new(Of(units.Read(x, u))) }
	return GasSettings{
		Law: "real", Stress: s.Stress, TurnRule: "all_usable",
		SortOut:      of(s.Ascent.SortOut.Minutes(), units.UnitMinute),
		AscentSpeed:  of(s.Ascent.Speed.In(units.UnitMPerMin), units.UnitMPerMin),
		StopDepth:    of(s.Ascent.Stop.In(units.UnitMetre), units.UnitMetre),
		StopTime:     of(s.Ascent.StopFor.Minutes(), units.UnitMinute),
		Reserve:      of(s.Reserve.In(units.UnitBar), units.UnitBar),
		Floor:        of(s.Floor.In(units.UnitBar), units.UnitBar),
		OxygenLimit:  of(s.OxygenLimit.In(units.UnitAtm), units.UnitAtm),
		NoStopMargin: of(float64(day.Margin), units.UnitMinute),
		DivesADay:    day.DivesADay, AscentsADay: day.AscentsDay,
	}
}

// Or returns the settings with what they leave out taken from others.
func (s GasSettings) Or(other GasSettings) GasSettings {
	return GasSettings{
		Law: cmp.Or(s.Law, other.Law), Stress: cmp.Or(s.Stress, other.Stress),
		TurnRule: cmp.Or(s.TurnRule, other.TurnRule),
		SortOut:  cmp.Or(s.SortOut, other.SortOut), AscentSpeed: cmp.Or(s.AscentSpeed, other.AscentSpeed),
		StopDepth: cmp.Or(s.StopDepth, other.StopDepth), StopTime: cmp.Or(s.StopTime, other.StopTime),
		Reserve: cmp.Or(s.Reserve, other.Reserve), Floor: cmp.Or(s.Floor, other.Floor),
		OxygenLimit:  cmp.Or(s.OxygenLimit, other.OxygenLimit),
		NoStopMargin: cmp.Or(s.NoStopMargin, other.NoStopMargin),
		DivesADay:    cmp.Or(s.DivesADay, other.DivesADay),
		AscentsADay:  cmp.Or(s.AscentsADay, other.AscentsADay),
	}
}

// Filled returns the cylinder with every default in its place.
func (v CylinderInput) Filled() CylinderInput {
	v.Count = max(1, v.Count)
	if v.RatedCapacity != nil {
		v.RatedBy = cmp.Or(v.RatedBy, "ideal")
	}
	return v
}

// Filled returns the input with every default in its place: what is still absent
// then is not known. To fill in again changes nothing.
func (in Input) Filled() Input {
	d := &in.Dive
	d.MeanDepth = cmp.Or(d.MeanDepth, &d.Depth)
	d.MeanDepth = new(*d.MeanDepth)
	d.Altitude = cmp.Or(d.Altitude, &Quantity{0, string(units.UnitMetre)})
	d.Water, d.Ascents = cmp.Or(d.Water, "salt"), max(1, d.Ascents)
	in.Settings = in.Settings.Or(DefaultGasSettings())
	divers := make([]DiverInput, len(in.Divers))
	for i, v := range in.Divers {
		v.Name, v.GaugeUnit = cmp.Or(v.Name, v.Key), cmp.Or(v.GaugeUnit, v.Start.Unit)
		v.Cylinder = v.Cylinder.Filled()
		v.Oxygen = cmp.Or(v.Oxygen, &Quantity{gas.Air.Percent(), string(units.UnitPercent)})
		divers[i] = v
	}
	in.Divers = divers
	return in
}

// Less reports whether a is less than b, where both are of a dimension.
func Less(a, b Quantity, of units.Dimension) bool {
	x, y := a.Reading(), b.Reading()
	return x.Unit.Dimension() == of && y.Unit.Dimension() == of && x.Compare(y) < 0
}
