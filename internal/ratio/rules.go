package ratio

import "tankside/internal/finding"

const (
	ourChoice  = "our choice"
	byTheBook  = "the rule book that the finding names"
	iso248013  = "ISO 24801-3:2014 clause 11.3"
	assistants = "common practice; one training organisation's instructor manual"
)

// The rules that findings come from. A finding of a book's line carries that
// book, its version and its source.
var (
	TooManyStudents = finding.Rule{
		ID: "ratio.too_many_students", Title: "Too many students",
		Severity: finding.Forbidden, Source: byTheBook,
		Text: "A group in the water has no more students than the strictest of the centre's rule books " +
			"allows its crew. A figure that a book lacks adds no places; a second instructor counts as an assistant.",
	}
	AboveLoweredLimit = finding.Rule{
		ID: "ratio.above_lowered_limit", Title: "More students than the instructor takes",
		Severity: finding.Forbidden, Source: ourChoice,
		Text: "An instructor may lower the limit of a group for a session, and then the lower limit counts.",
	}
	NoNumber = finding.Rule{
		ID: "ratio.no_number", Title: "No rule book sets a number",
		Severity: finding.Forbidden, Source: ourChoice,
		Text: "Where no rule book that the centre applies speaks of this water, level and age, nobody is " +
			"placed until the centre sets a number.",
	}
	NoInstructor = finding.Rule{
		ID: "ratio.no_instructor", Title: "No instructor in charge", Severity: finding.Forbidden,
		Source: "Québec, recreational diving regulation r. 8 s. 3.1: an assistant may not be responsible " +
			"for a group",
		Text: "A group with students in the water has an instructor in charge; certified divers have a " +
			"leader.",
	}
	BelowMinimumAge = finding.Rule{
		ID: "ratio.below_minimum_age", Title: "Too young", Severity: finding.Forbidden, Source: byTheBook,
		Text: "Nobody in the group is younger, on the day, than a rule book's least age.",
	}
	TooManyYoung = finding.Rule{
		ID: "ratio.too_many_young", Title: "Too many young students",
		Severity: finding.Forbidden, Source: byTheBook,
		Text: "The instructor and each assistant take at most so many of the youngest as a rule book says; " +
			"usual practice is two under-12s each.",
	}
	YoungWithOthers = finding.Rule{
		ID: "ratio.young_with_others", Title: "Young students in the wrong company",
		Severity: finding.Forbidden, Source: byTheBook,
		Text: "With any of the youngest in the group, everybody else is as old as a rule book says; usual " +
			"practice is 15 or older beside under-12s.",
	}
	TooDeep = finding.Rule{
		ID: "ratio.too_deep", Title: "Deeper than the figure holds",
		Severity: finding.Forbidden, Source: byTheBook,
		Text: "A rule book's figure holds only down to the depth that the book gives.",
	}
	ConditionOfBook = finding.Rule{
		ID: "ratio.condition", Title: "A condition to judge", Severity: finding.Caution, Source: byTheBook,
		Text: "A rule book asks for something without giving a figure, so a person has to judge it.",
	}
	DemandingConditions = finding.Rule{
		ID: "ratio.demanding_conditions", Title: "Demanding conditions",
		Severity: finding.Caution, Source: iso248013,
		Text: "With visibility below 2 m, a current above 0.25 m/s or water below 10 °C the instructor " +
			"reduces the number as conditions dictate.",
	}
	ReducedByConditions = finding.Rule{
		ID: "ratio.reduced_by_conditions", Title: "Fewer places in these conditions",
		Severity: finding.Note, Source: byTheBook,
		Text: "A rule book takes places away in demanding conditions.",
	}
	AssistantNotCounted = finding.Rule{
		ID: "ratio.assistant_not_counted", Title: "An assistant does not count",
		Severity: finding.Note, Source: assistants,
		Text: "Only assistants who are active and insured count towards a ratio.",
	}
	LeaderNotDiving = finding.Rule{
		ID: "ratio.leader_not_diving", Title: "The instructor in charge does not dive",
		Severity: finding.Caution, Source: ourChoice,
		Text: "No rule book says whether an instructor in charge counts in open water without diving. " +
			"The group keeps its places, and the person who opens the session accepts that nobody in charge is in " +
			"the water.",
	}
	CrewNotDiving = finding.Rule{
		ID: "ratio.crew_not_diving", Title: "Crew who count and do not dive",
		Severity: finding.Note, Source: ourChoice,
		Text: "No rule book says whether crew count without diving. They count here, and the group's " +
			"findings say so.",
	}
	DepthNotKnown = finding.Rule{
		ID: "ratio.depth_not_known", Title: "Planned depth not known",
		Severity: finding.Note, Source: byTheBook,
		Text: "A rule book's figure holds only down to a depth, and none is planned yet. Where the site is " +
			"no deeper than that, nothing is said.",
	}
	LimitNotRaised = finding.Rule{
		ID: "ratio.limit_not_raised", Title: "A limit is never raised",
		Severity: finding.Note, Source: ourChoice,
		Text: "An instructor may lower a limit for a session, never raise it; a number above the limit " +
			"changes nothing.",
	}
)

// Rules returns every rule of the package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{
		TooManyStudents, AboveLoweredLimit, NoNumber, NoInstructor, BelowMinimumAge, TooManyYoung,
		YoungWithOthers, TooDeep, ConditionOfBook, DemandingConditions, ReducedByConditions,
		AssistantNotCounted, LeaderNotDiving, CrewNotDiving, DepthNotKnown, LimitNotRaised,
	}
}
