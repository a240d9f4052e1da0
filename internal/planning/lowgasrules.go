package planning

import "tankside/internal/finding"

// The rules about pressures that a briefing tells.
var (
	ToldNotJudged = finding.Rule{ID: "planning.told_not_judged", Severity: finding.Forbidden,
		Title:  "Told pressures that nothing can be worked out from",
		Text:   "Pressures that a briefing tells count when the dive that they are for is known: its depth from the briefing, the syllabus or the site, and figures that are possible.",
		Source: ours}
	ToldNotInCharge = finding.Rule{ID: "planning.told_not_in_charge", Severity: finding.Caution,
		Title:  "Pressures are told by an instructor in charge",
		Text:   "Pressures that a briefing tells count for opening the session when an instructor in charge of one of its groups gave the briefing.",
		Source: ours}
	ToldAssumed = finding.Rule{ID: "planning.told_assumed", Severity: finding.Note,
		Title:  "What told pressures were judged by",
		Text:   "Told pressures are judged for two people on one cylinder, at the rate learned of each person or the novice's. Where the briefing names no depth, the greatest that the dive may have counts; where it names no time, the least duration of the training dive or 20 min; where it names no cylinder, the smallest that the centre has set.",
		Source: ours}
)

// lowGasRules lists them.
func lowGasRules() []finding.Rule {
	return []finding.Rule{ToldNotJudged, ToldNotInCharge, ToldAssumed}
}
