package signal

import "tankside/internal/finding"

// Rules of a gas check. All but over-reporting and silence are notes: they leave the diver on the
// safe side, or record what was not seen.
var (
	RuleMisreadLow = finding.Rule{
		ID: "signal.misread_low", Title: "Less gas reported than the gauge shows", Severity: finding.Note,
		Text: "A report from the reading down to the reading rounded down to 100 psi or 10 bar is right. " +
			"A lower one is a misreading on the safe side.",
		Source: "common practice",
	}
	RuleOverReported = finding.Rule{
		ID: "signal.over_reported", Title: "More gas reported than the gauge shows",
		Severity: finding.Caution,
		Text: "A reading is rounded down before it is signalled: 1750 psi reported as 1800 is more gas " +
			"than there is.",
		Source: "common practice",
	}
	RuleUndetermined = finding.Rule{
		ID: "signal.undetermined", Title: "Report cannot be told from gas breathed meanwhile",
		Severity: finding.Note,
		Text: "Where the gauge was read after the signal and the report is at most one step above it, " +
			"the diver may have been right when signalling.",
		Source: "our choice",
	}
	RuleUnverified = finding.Rule{
		ID: "signal.unverified", Title: "Only the gauge or only the signal was seen", Severity: finding.Note,
		Text:   "A gas check is verified where both the gauge and the signal were seen.",
		Source: "our choice",
	}
	RuleNoAnswer = finding.Rule{
		ID: "signal.no_answer", Title: "Asked for the gas, no report", Severity: finding.Caution,
		Text: "A diver who is asked how much gas they have looks, reports and waits until the figure is " +
			"repeated.",
		Source: "common practice",
	}
	RuleOtherUnit = finding.Rule{
		ID: "signal.other_unit", Title: "Reported in another unit than the gauge's", Severity: finding.Note,
		Text: "A diver reports in the unit of their own gauge. A figure in another unit is converted to " +
			"compare it, and rounded down again.",
		Source: "common practice",
	}
)

// Rules of the gas checks of a dive. What happened is never refused: the cautions state what is to
// be done, and what was missed.
var (
	RuleTurnReached = finding.Rule{
		ID: "signal.turn_reached", Title: "At the turn pressure the group turns", Severity: finding.Caution,
		Text: "A reading at or below the turn pressure, the greater of the one planned and the one told " +
			"at the briefing, or a report where nobody saw the gauge, has reached it: the whole group " +
			"turns. A simulated one of a drill reaches nothing.",
		Source: "common practice",
	}
	RuleLowGasReached = finding.Rule{
		ID: "signal.low_gas_reached", Title: "Low on gas: signal it, and begin the ascent",
		Severity: finding.Caution,
		Text: "A reading at or below the low-gas pressure, or a report where nobody saw the gauge, has " +
			"reached it: the diver signals, the buddy closes up, the ascent begins. It is the greatest of " +
			"the one planned, the one told at the briefing and the centre's floor for that water, so that " +
			"everybody has one, planned or not. A simulated one of a drill reaches nothing.",
		Source: "training organisations' manuals (seen); at or below, and the greatest of the three: our " +
			"choice",
	}
	RuleStartedLow = finding.Rule{
		ID: "signal.started_low", Title: "Nobody goes in with the gas to turn or come up with",
		Severity: finding.Forbidden,
		Text: "Who goes in with a start pressure at or below the turn or the low-gas pressure that " +
			"they are held against, the greatest of the one planned, the one told at the briefing and, for " +
			"low on gas, the centre's floor for that water, has nothing to dive on. The time in is " +
			"recorded, with this finding.",
		Source: "common practice: the turn and low-gas pressures are below the start; at or below, and the " +
			"greatest of the three: our choice",
	}
	RuleResponseNotSeen = finding.Rule{
		ID: "signal.response_not_seen", Title: "A planned pressure is answered by the planned response",
		Severity: finding.Note,
		Text: "Where a planned pressure was reached and the dive ended without the response having " +
			"been recorded, it is pointed out, so that it is recorded late or talked over.",
		Source: "our choice",
	}
	RuleCheckGap = finding.Rule{
		ID: "signal.check_gap", Title: "The gas is looked at as often as agreed", Severity: finding.Caution,
		Text: "In a log that is complete, more time in the water between two looks at a diver's gas than " +
			"was agreed at the briefing is a gap. An unlogged look is none, so a log that is not complete " +
			"is not judged.",
		Source: "common practice: every minute or two; the interval is the group's own",
	}
)

// Rules of a convention and of numbers on the hands.
var (
	RuleUnusable = finding.Rule{
		ID: "signal.convention_unusable", Title: "Convention cannot show numbers",
		Severity: finding.Forbidden,
		Text: "A convention has a unit (bar or psi), hands (one or two), a style of numbers that these " +
			"hands can show, and known gestures and messages.",
		Source: "our choice",
	}
	RuleNotAgreed = finding.Rule{
		ID: "signal.not_agreed", Title: "A message has no sign", Severity: finding.Caution,
		Text: "Before the dive the group agrees how to ask for the gas, and the signs for low on gas, " +
			"out of gas and share.",
		Source: "common practice",
	}
	RuleTwoMeanings = finding.Rule{
		ID: "signal.two_meanings", Title: "One gesture, two meanings", Severity: finding.Caution,
		Text: "A gesture has one meaning in a convention. It is forbidden to share one with low on gas, " +
			"out of gas or share gas.",
		Source: "our choice",
	}
	RuleTenReadsAsGoUp = finding.Rule{
		ID: "signal.ten_reads_as_go_up", Title: "Ten reads as \"go up\"", Severity: finding.Caution,
		Text: "A thumb up ends the dive. Ten shown as a thumb up can start an ascent, and a true \"go " +
			"up\" can be taken for a number.",
		Source: "common practice",
	}
	RuleCustom = finding.Rule{
		ID: "signal.against_custom", Title: "A gesture means something else in this region",
		Severity: finding.Caution,
		Text: "Signs differ by region and training organisation: a T asks for half a tank here and for " +
			"decompression there, a fist alone is low on gas here and on reserve there.",
		Source: "common practice",
	}
	RuleLooksAlike = finding.Rule{
		ID: "signal.looks_alike", Title: "Two gestures look alike", Severity: finding.Note,
		Text:   "Gestures that look alike from a distance are shown side by side in the briefing.",
		Source: "our choice",
	}
	RuleOutOfRange = finding.Rule{
		ID: "signal.out_of_range", Title: "Number that the hands cannot show", Severity: finding.Forbidden,
		Text:   "The hands show 0 to 59 steps: 5900 psi or 590 bar, more than a cylinder holds.",
		Source: "our choice",
	}
	RuleImpossible = finding.Rule{
		ID: "signal.impossible_sequence", Title: "Gestures that are no number", Severity: finding.Forbidden,
		Text: "A number has one look in a convention. Gestures that are neither that nor a message are " +
			"not guessed at.",
		Source: "our choice",
	}
	RuleAmbiguous = finding.Rule{
		ID: "signal.ambiguous", Title: "Gestures that can be understood in several ways",
		Severity: finding.Caution,
		Text: "Where a sequence can be understood in several ways, every one is given, and the gauge " +
			"decides.",
		Source: "our choice",
	}
)

// RuleNotPlanned is the rule of the cases that a drill script had to leave out.
var RuleNotPlanned = finding.Rule{
	ID: "signal.not_planned", Title: "A drill without a planned pressure", Severity: finding.Note,
	Text: "A drill at the turn or low-gas pressure uses the pressure that was planned for that student " +
		"and cylinder, never one that is usual. Where none is known, the case is left out.",
	Source: "our choice",
}

// verdictRules has the rule for each verdict that follows from comparing a report.
var verdictRules = map[Verdict]finding.Rule{
	MisreadLow: RuleMisreadLow, OverReported: RuleOverReported, Undetermined: RuleUndetermined,
}

// Rules returns every rule of this package.
func Rules() []finding.Rule {
	return []finding.Rule{
		RuleMisreadLow, RuleOverReported, RuleUndetermined, RuleUnverified, RuleNoAnswer, RuleOtherUnit,
		RuleTurnReached, RuleLowGasReached, RuleStartedLow, RuleResponseNotSeen, RuleCheckGap, RuleUnusable,
		RuleNotAgreed, RuleTwoMeanings, RuleTenReadsAsGoUp, RuleCustom, RuleLooksAlike, RuleOutOfRange,
		RuleImpossible, RuleAmbiguous, RuleNotPlanned,
	}
}
