package gas

import (
	"errors"
	"time"

	"tankside/internal/units"
)

// Settings are the settings by which a centre or an instructor plans gas.
type Settings struct {
	Law         GasLaw
	Water       Water
	Stress      float64        // the factor on the planned rate of people who share gas
	Ascent      Ascent         // with sorting out, for minimum gas; without, for the usual end of a dive
	Reserve     units.Pressure // on top of the ascent gas
	Floor       units.Pressure // the least low-gas pressure
	Rule        TurnRule
	OxygenLimit units.Pressure // largest partial pressure of oxygen
}

// DefaultSettings returns the settings where a centre sets no others. They are our choice within common
// practice, and a centre and an instructor may change them:
//   - real gas; sea water as 10 m to the atmosphere;
//   - stress 1.5: a rate of 20 L/min becomes 30, about 1 cu ft/min, the planning
//     figure of much minimum-gas teaching; working divers are given up to 1.8;
//   - 1 min to sort things out, ascent at 9 m/min (30 ft/min), 3 min at 5 m: the
//     speed and the stop are those that most organisations teach;
//   - 10 bar of reserve, a floor of 50 bar;
//   - all usable gas, since most training dives may come up anywhere;
//   - 1.4 atmospheres of oxygen, as in the nitrox textbooks.
func DefaultSettings() Settings {
	return Settings{
		Water: SeaWater, Stress: 1.5,
		Ascent: Ascent{SortOut: time.Minute, Speed: 9 * units.MetrePerMinute, Stop: 5 * units.Metre,
			StopFor: 3 * time.Minute},
		Reserve: 10 * units.Bar, Floor: 50 * units.Bar, OxygenLimit: 1.4 * units.Atmosphere,
	}
}

// check returns an error for each setting that is not possible.
func (s Settings) check() error {
	stress := span{1, 5, units.UnitPercent}
	if s.Law > IdealGas || s.Rule > Thirds {
		return &OutOfRange{What: "law or turn rule", Found: "an unknown one", Diver: -1,
			Limit: "one that the service knows", Cure: "choose one of those listed"}
	}
	w := s.Water.filled()
	var stressErr error
	if !(s.Stress >= stress.least && s.Stress <= stress.most) {
		stressErr = &OutOfRange{What: "stress factor", Found: decimals(s.Stress, 2), Diver: -1,
			Limit: "from 1 to 5", Cure: "correct the figure"}
	}
	return errors.Join(stressErr,
		surfaceRange.check("surface pressure", float64(w.Surface)),
		deepRange.check("depth that adds a surface pressure", float64(w.Deep)),
		shortMinutes.checkTime("time to sort out", s.Ascent.SortOut),
		ascentSpeed.check("ascent rate", float64(s.Ascent.Speed)),
		stopDepth.check("depth of the safety stop", float64(s.Ascent.Stop)),
		shortMinutes.checkTime("length of the safety stop", s.Ascent.StopFor),
		reservePressure.check("reserve", float64(s.Reserve)),
		reservePressure.check("floor", float64(s.Floor)),
		oxygenLimit.check("limit of the oxygen partial pressure", float64(s.OxygenLimit)))
}
