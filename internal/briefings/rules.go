package briefings

import "tankside/internal/finding"

// The rules of briefings. A briefing is a fact, so none of them refuses it.
var (
	NoConfirmedPlan = finding.Rule{ID: "planning.no_confirmed_plan", Severity: finding.Caution,
		Title: "Pressures come from a confirmed plan",
		Text: "A person for whom no confirmed gas plan is on record goes by the pressures that the briefing says, " +
			"if it says any.",
		Source: "our choice"}
	NoLowPressure = finding.Rule{ID: "planning.no_low_pressure", Severity: finding.Caution,
		Title: "Everybody knows their low-gas pressure",
		Text: "Before the dive everybody knows at which pressure they signal low on gas, from a confirmed plan or " +
			"as the briefing says.",
		Source: "low on gas is signalled at the agreed pressure: training organisations' manuals (seen)"}
	BelowPlan = finding.Rule{ID: "planning.below_plan", Severity: finding.Caution,
		Title: "A briefing does not go below the plan",
		Text: "A turn or low-gas pressure below that of the confirmed plan leaves less gas than was planned for. " +
			"It is kept as it was said, and pointed out.",
		Source: "our choice"}
	KnowsOther = finding.Rule{ID: "planning.knows_other_convention", Severity: finding.Caution,
		Title: "A person was trained in other signals",
		Text: "Signals differ by region and training organisation. A person who learned others is shown the signs " +
			"that differ before the dive.",
		Source: "common practice"}
	RoleOpen = finding.Rule{ID: "planning.role_open", Severity: finding.Note,
		Title:  "Who does what is said",
		Text:   "A briefing says who leads and who is last, and who has the oxygen and the radio.",
		Source: "common practice"}
	NoInterval = finding.Rule{ID: "planning.no_check_interval", Severity: finding.Note,
		Title: "How often gas is checked is agreed",
		Text: "Where a briefing agrees no interval, no gas check is ever due and none is late. Gas is usually " +
			"looked at every minute or two.",
		Source: "common practice"}
)

// The rules about pressures that a briefing tells.
var (
	ToldNotJudged = finding.Rule{ID: "planning.told_not_judged", Severity: finding.Forbidden,
		Title: "Told pressures that nothing can be worked out from",
		Text: "Pressures that a briefing tells count when the dive that they are for is known: its depth from the " +
			"briefing, the syllabus or the site, and figures that are possible.",
		Source: "our choice"}
	ToldNotInCharge = finding.Rule{ID: "planning.told_not_in_charge", Severity: finding.Caution,
		Title: "Pressures are told by an instructor in charge",
		Text: "Pressures that a briefing tells count for opening the session when an instructor in charge of one " +
			"of its groups gave the briefing.",
		Source: "our choice"}
	ToldAssumed = finding.Rule{ID: "planning.told_assumed", Severity: finding.Note,
		Title: "What told pressures were judged by",
		Text: "Told pressures are judged for two people on one cylinder, at the rate learned of each person or " +
			"the novice's. Where the briefing names no depth, the greatest that the dive may have counts; where it " +
			"names no time, the least duration of the training dive or 20 min; where it names no cylinder, the " +
			"smallest that the centre has set.",
		Source: "our choice"}
)

// Rules returns the rules of this package. Their ids keep the prefix under which they
// were published.
func Rules() []finding.Rule {
	return []finding.Rule{NoConfirmedPlan, NoLowPressure, BelowPlan, KnowsOther, RoleOpen, NoInterval,
		ToldNotJudged, ToldNotInCharge, ToldAssumed}
}
