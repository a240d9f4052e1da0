package gas

import (
	"tankside/internal/finding"
	"tankside/internal/units"
)

// Version is the version of this rule book. It is stored with what was judged by it and changes
// whenever a result may.
const Version = "gas-2"

// Limits that are not settings.
const (
	// endCaution is the least pressure with which divers commonly come back: 50 bar (500 to 700 psi
	// elsewhere). Source: three organisations' manuals.
	endCaution = 50 * units.Bar
	// leastVisibility, mostCurrent and coldest are the thresholds of demanding conditions. Source:
	// ISO 24801-3:2014, clause 11.3.
	leastVisibility = 2 * units.Metre
	mostCurrent     = 0.25 * units.MetrePerSecond
	coldestCelsius  = 10.0
	// overfill is the multiple of its working pressure above which the reading of a cylinder, its
	// unit or the cylinder is doubted. Our choice, after the 10 % that some steel cylinders are
	// rated above their mark.
	overfill = 1.1
)

const (
	demanding = "ISO 24801-3:2014, clause 11.3"
	ours      = "our choice"
)

// The rules that a plan is judged by.
var (
	DepthOverSite = finding.Rule{ID: "gas.depth_over_site",
		Severity: finding.Forbidden, Source: "the site's own limit",
		Title: "Deeper than the site allows",
		Text:  "The planned depth may not be greater than the maximum depth of the site."}
	DepthOverPerson = finding.Rule{ID: "gas.depth_over_person",
		Severity: finding.Forbidden, Source: "the person's limit, as given with it",
		Title: "Deeper than a person may go",
		Text: "The planned depth may not be greater than the limit of anyone in the group, by age, by the " +
			"number of their own training dive or by their grade."}
	StartAtLowGas = finding.Rule{ID: "gas.start_at_low_gas",
		Severity: finding.Forbidden, Source: "common practice",
		Title: "Nothing to dive with",
		Text: "The pressure at the start must be above the low-gas pressure: at or below it the pair " +
			"would have to come up at once."}
	TimeBelowLeast = finding.Rule{ID: "gas.time_below_least",
		Severity: finding.Forbidden, Source: "the training dive's least duration",
		Title: "Gas for less than the least duration",
		Text: "A training dive counts from time in to time out. The gas of everyone, and the group's " +
			"latest start of the ascent, each with the ascent and its stop, must reach for the least " +
			"duration."}
	OverNoStop = finding.Rule{ID: "gas.over_no_stop",
		Severity: finding.Forbidden, Source: "the no-stop limit, as given",
		Title: "Longer than the no-stop limit",
		Text:  "The planned time may not be longer than the no-stop limit of the group."}
	OxygenOverLimit = finding.Rule{ID: "gas.oxygen_over_limit", Severity: finding.Forbidden,
		Source: "the limit set; 1.4 atmospheres in the nitrox textbooks",
		Title:  "Too much oxygen at depth",
		Text: "The partial pressure of oxygen at the greatest depth may not be above the limit; the " +
			"oxygen fraction is rounded up to a whole per cent."}
	OxygenTooLong = finding.Rule{ID: "gas.oxygen_too_long",
		Severity: finding.Forbidden, Source: "NOAA Diving Manual, oxygen exposure limits",
		Title: "Too long at this oxygen pressure",
		Text: "The planned time may not exceed the oxygen exposure limit for one dive, nor, with the " +
			"earlier dives, that for 24 h."}

	ToldBelowFloor = finding.Rule{ID: "gas.told_below_floor",
		Severity: finding.Forbidden, Source: "the centre's floor for that water",
		Title: "Told to stay below the floor",
		Text:  "A low-gas pressure that is told in a briefing is not below the centre's floor for that water."}
	ToldOutOfOrder = finding.Rule{ID: "gas.told_out_of_order",
		Severity: finding.Forbidden, Source: "common practice",
		Title: "Told pressures out of order",
		Text: "Of the pressures that are told in a briefing the start is above the turn pressure, and the " +
			"turn pressure at or above the low-gas pressure."}
	ToldBelowAscent = finding.Rule{ID: "gas.told_below_ascent",
		Severity: finding.Forbidden, Source: "the gas of an emergency ascent, as in a plan",
		Title: "Told less than two need to come up",
		Text: "At the low-gas pressure that is told in a briefing the cylinder holds the gas that two " +
			"people who share it need from the deepest point to the surface."}

	TimeBelowPlanned = finding.Rule{ID: "gas.time_below_planned", Severity: finding.Caution, Source: ours,
		Title: "Gas for less than planned",
		Text: "The gas of everyone should reach for the planned time, and so should the way out and back " +
			"under the turn rule."}
	DemandingConditions = finding.Rule{ID: "gas.demanding_conditions",
		Severity: finding.Caution, Source: demanding,
		Title: "Demanding conditions",
		Text: "Visibility below 2 m, current above 0.25 m/s or water below 10 °C make people breathe more " +
			"and help later."}
	NoSafetyStop = finding.Rule{ID: "gas.no_safety_stop",
		Severity: finding.Caution, Source: "three organisations' manuals: 3 min at 5 m",
		Title: "No safety stop planned", Text: "A plan should have gas for a safety stop."}
	EndBelow50 = finding.Rule{ID: "gas.end_below_50_bar",
		Severity: finding.Caution, Source: "three organisations' manuals: come back with 50 bar",
		Title: "Expected back with less than 50 bar",
		Text:  "Everyone should be expected on the surface with 50 bar or more."}
	OverFilled = finding.Rule{ID: "gas.start_over_working_pressure", Severity: finding.Caution, Source: ours,
		Title: "Start far above the working pressure",
		Text: "A start more than 10 % above the cylinder's working pressure is a misreading, a wrong " +
			"unit, another cylinder, or an overfilled one."}
)

// Rules returns all rules of the book, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{DepthOverSite, DepthOverPerson, StartAtLowGas, TimeBelowLeast, OverNoStop,
		OxygenOverLimit, OxygenTooLong, ToldBelowFloor, ToldOutOfOrder, ToldBelowAscent, TimeBelowPlanned,
		DemandingConditions,
		NoSafetyStop, EndBelow50, OverFilled, GaugeStuck, GaugeRose}
}
