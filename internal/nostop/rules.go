package nostop

import "tankside/internal/finding"

// The sources that are not tables of the manual.
const (
	sourceDAN = "DAN workshop on flying after recreational diving, Durham, May 2002"
	ours      = "our choice"
)

// The rules of the package. Each finding that it makes is of one of them.
var (
	// RuleLimitExceeded forbids a dive that is longer, with its residual
	// nitrogen, than the no-stop limit of its row.
	RuleLimitExceeded = finding.Rule{
		ID: "nostop.limit_exceeded", Severity: finding.Forbidden, Source: source97,
		Title: "No-stop limit exceeded",
		Text: "The time under water and the residual nitrogen time together are at most the no-stop limit " +
			"of the next deeper row.",
	}
	// RuleTooDeep forbids a dive deeper than the last row of Table 9-7.
	RuleTooDeep = finding.Rule{
		ID: "nostop.too_deep", Severity: finding.Forbidden, Source: source97,
		Title: "Deeper than the table",
		Text:  "A dive is planned to at most 190 fsw, the last row of the table.",
	}
	// RuleAltitudeSite forbids a dive at a site so high that the depth needs a
	// correction: above 300 m, or above 300 ft and deeper than 145 fsw.
	RuleAltitudeSite = finding.Rule{
		ID: "nostop.altitude_site", Severity: finding.Forbidden, Source: Source + ", diving at altitude",
		Title: "Site needs a correction for altitude",
		Text: "A dive above 300 m of altitude, or above 300 ft (91 m) and deeper than 145 fsw, needs the " +
			"manual's correction table, which is not held here: it is not planned by these tables.",
	}
	// RuleNotADive forbids an entry that cannot be a dive.
	RuleNotADive = finding.Rule{
		ID: "nostop.not_a_dive", Severity: finding.Forbidden, Source: ours,
		Title: "Not a possible dive",
		Text: "A dive has a depth of more than nothing in metres or feet, a time out after its time in and " +
			"at most 24 h later, and no negative number of ascents.",
	}
	// RuleOverlap forbids two dives of one person at one time.
	RuleOverlap = finding.Rule{
		ID: "nostop.overlap", Severity: finding.Forbidden, Source: ours,
		Title: "Two dives at once",
		Text: "A person's dive starts when the dive before it has ended. Two that overlap are reckoned as " +
			"one.",
	}
	// RuleOutsideBefore forbids a dive within 24 h of one outside the tables.
	RuleOutsideBefore = finding.Rule{
		ID: "nostop.outside_before", Severity: finding.Forbidden, Source: ours,
		Title: "After a dive outside the tables",
		Text: "For 24 h after a dive outside the tables the residual nitrogen is not known, " +
			"and no dive is planned from them.",
	}
	// RuleNearLimit cautions about a dive that ends close to its limit.
	RuleNearLimit = finding.Rule{
		ID: "nostop.near_limit", Severity: finding.Caution, Source: ours,
		Title: "Close to the no-stop limit",
		Text: "A dive is planned to end a few minutes (5 unless set) before the no-stop limit. " +
			"Of a dive already done it is a note.",
	}
	// RuleManyDives cautions about more dives a day than the centre's number.
	RuleManyDives = finding.Rule{
		ID: "nostop.many_dives", Severity: finding.Caution, Source: ours,
		Title: "Many dives in a day",
		Text:  "A person makes at most so many dives a day (3 unless set), crew and confined water included.",
	}
	// RuleManyAscents cautions about more ascents a day than the centre's number.
	RuleManyAscents = finding.Rule{
		ID: "nostop.many_ascents", Severity: finding.Caution, Source: ours,
		Title: "Many ascents in a day",
		Text: "A person comes up at most so many times a day (6 unless set): each dive is one ascent, " +
			"each practice ascent during it one more.",
	}
	// RuleOneDive notes that two dives count as one.
	RuleOneDive = finding.Rule{
		ID: "nostop.one_dive", Severity: finding.Note, Source: source98,
		Title: "Reckoned as one dive",
		Text: "Less than 10 min on the surface does not part two dives: their times under water are added " +
			"and the greater depth counts for both.",
	}
	// RuleGroupUnchanged notes a dive for which Table 9-8 has no figure.
	RuleGroupUnchanged = finding.Rule{
		ID: "nostop.group_unchanged", Severity: finding.Note, Source: source988,
		Title: "Group unchanged by a shallow dive",
		Text: "Where the table has no residual nitrogen time at 10, 15 or 20 fsw none is needed, since the " +
			"time there is unlimited, and the dive leaves the group as it is.",
	}
	// RuleTooSoon forbids flying or going to altitude before the wait is over.
	RuleTooSoon = finding.Rule{
		ID: "nostop.too_soon_up", Severity: finding.Forbidden, Source: source96 + "; " + sourceDAN,
		Title: "Too soon to fly or go to altitude",
		Text: "Nobody flies or goes to altitude before the longer of the table's interval and, for a flight, " +
			"12 h after a single no-stop dive and 18 h after several dives or days.",
	}
	// RuleTooHigh forbids going higher than Table 9-6 covers.
	RuleTooHigh = finding.Rule{
		ID: "nostop.too_high", Severity: finding.Forbidden, Source: source96,
		Title: "Higher than the table",
		Text:  "The interval before going to altitude is known up to 10 000 ft (3048 m).",
	}
	// RuleFlyAfterOutside cautions that the wait after a dive outside the tables
	// is our figure.
	RuleFlyAfterOutside = finding.Rule{
		ID: "nostop.fly_after_outside", Severity: finding.Caution, Source: sourceDAN,
		Title: "Flying after a dive outside the tables",
		Text: "After a dive that needed stops the workshop asks for substantially longer than 18 h and " +
			"gives no figure. 48 h are our choice; ask a doctor who knows diving.",
	}
)

// Rules returns the rules of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{
		RuleLimitExceeded, RuleTooDeep, RuleAltitudeSite, RuleNotADive, RuleOverlap, RuleOutsideBefore,
		RuleNearLimit, RuleManyDives, RuleManyAscents, RuleOneDive, RuleGroupUnchanged, RuleTooSoon,
		RuleTooHigh, RuleFlyAfterOutside,
	}
}
