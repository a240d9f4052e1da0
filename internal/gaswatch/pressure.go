package gaswatch

import (
	"tankside/internal/fault"
	"tankside/internal/gas"
	"tankside/internal/units"
)

// mostPressure is the highest gauge pressure that is believed at all, in any
// cylinder: 350 bar, our choice, above every rating in the trade.
var mostPressure = units.Read(350, units.UnitBar)

// CheckPressure returns a fault for a pressure that no gauge can show.
func CheckPressure(r *units.Reading, rating *units.Reading, pointer string) error {
	if r == nil {
		return nil
	}
	if r.Value < 0 {
		return fault.Invalid(pointer, "{found} is below zero, which no gauge shows.", r)
	}
	if r.Compare(mostPressure) > 0 {
		return fault.Invalid(pointer,
			"{found} is above {limit}, which no cylinder holds. Check the unit.", r, mostPressure)
	}
	if rating != nil && r.Pressure() > gas.MostOfRating*rating.Pressure() {
		most := units.Read((gas.MostOfRating * rating.Pressure()).In(rating.Unit), rating.Unit)
		return fault.Invalid(pointer,
			"{found} is above {limit}, one and a half times the cylinder's rating of {rating}. Check the unit; "+
				"if the rating is wrong, void the time in that gives it and record it again.", r, most, rating)
	}
	return nil
}
