package signal

import "tankside/internal/finding"

// Rules of a gas check. All but over-reporting and silence are notes, since
// they leave the diver on the safe side or say what was not seen.
var (
	RuleMisreadLow = finding.Rule{
		ID: "signal.misread_low", Title: "Less gas reported than the gauge shows", Severity: finding.Note,
		Text:   "A report from the reading down to the reading rounded down to 100 psi or 10 bar is right. A lower one is a misreading on the safe side.",
		Source: "common practice",
	}
	RuleOverReported = finding.Rule{
		ID: "signal.over_reported", Title: "More gas reported than the gauge shows", Severity: finding.Caution,
		Text:   "A reading is rounded down before it is signalled: 1750 psi reported as 1800 is more gas than there is.",
		Source: "common practice",
	}
	RuleUndetermined = finding.Rule{
		ID: "signal.undetermined", Title: "Report cannot be told from gas breathed meanwhile", Severity: finding.Note,
		Text:   "Where the gauge was read after the signal and the report is at most one step above it, the diver may have been right when signalling.",
		Source: "our choice",
	}
	RuleUnverified = finding.Rule{
		ID: "signal.unverified", Title: "Only the gauge or only the signal was seen", Severity: finding.Note,
		Text:   "A gas check is verified where both the gauge and the signal were seen.",
		Source: "our choice",
	}
	RuleNoAnswer = finding.Rule{
		ID: "signal.no_answer", Title: "Asked for the gas, no report", Severity: finding.Caution,
		Text:   "A diver who is asked how much gas they have looks, reports and waits until the figure is repeated.",
		Source: "common practice",
	}
	RuleOtherUnit = finding.Rule{
		ID: "signal.other_unit", Title: "Reported in another unit than the gauge's", Severity: finding.Note,
		Text:   "A diver reports in the unit of their own gauge. A figure in another unit is converted to compare it, and rounded down again.",
		Source: "common practice",
	}
)

// verdictRules has the rule that explains each verdict on a report compared.
var verdictRules = map[Verdict]finding.Rule{
	MisreadLow: RuleMisreadLow, OverReported: RuleOverReported, Undetermined: RuleUndetermined,
}

// Rules lists every rule from which this package makes findings.
func Rules() []finding.Rule {
	return []finding.Rule{
		RuleMisreadLow, RuleOverReported, RuleUndetermined, RuleUnverified, RuleNoAnswer, RuleOtherUnit,
	}
}
