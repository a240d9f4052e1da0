package roster

import "tankside/internal/finding"

// The rules that findings of this package come from.
var (
	CrewPaper = finding.Rule{ID: "roster.crew_paper", Severity: finding.Forbidden, Papers: true,
		Title: "Crew hold the papers that the centre asks for",
		Text: "Everyone of the crew holds, on the day of the session, each kind of paper that the centre " +
			"asks of crew: by default teaching status and first aid.",
		Source: "first aid within 24 months: training organisations' manuals (seen); teaching status " +
			"renewed yearly: Québec, recreational diving regulation (seen); the dates are those on the paper"}
	AssistantUncounted = finding.Rule{ID: "roster.assistant_uncounted", Severity: finding.Note, Papers: true,
		Title: "An assistant counts only when active and insured",
		Text: "An assistant without valid teaching status and insurance on the day may help and adds no " +
			"places to the group.",
		Source: "a training organisation's manual (seen)"}
	StudentPaper = finding.Rule{ID: "roster.student_paper", Severity: finding.Forbidden, Papers: true,
		Title: "Students hold the papers that the centre asks for",
		Text: "A student gets into the water only with each kind of paper that the centre asks of " +
			"students: by default a waiver.",
		Source: "the centre's own demand"}
	MedicalFlagged = finding.Rule{ID: "roster.medical_flagged", Severity: finding.Forbidden, Papers: true,
		Title: "A medical answer that needs a physician keeps out of the water",
		Text: "Where an answer to the participant questionnaire leads to a physician, there is no water " +
			"session without the physician's approval on record. Only the outcome and its date are kept.",
		Source: "UHMS/DMSC diver medical participant questionnaire (2020), seen; Queensland, Safety in " +
			"Recreational Water Activities Regulation 2024 s. 10, 11, seen"}
	MedicalMissing = finding.Rule{ID: "roster.medical_missing", Severity: finding.Forbidden, Papers: true,
		Title: "A medical outcome is on record",
		Text: "A student gets into the water only with a medical outcome on record that is not older " +
			"than the centre allows; the questionnaire has no expiry of its own.",
		Source: "UHMS/DMSC diver medical participant questionnaire (2020), seen; the age is the centre's own"}
	MinorConsent = finding.Rule{ID: "roster.minor_consent", Severity: finding.Forbidden, Papers: true,
		Title: "A minor has the consent of a parent or guardian",
		Text: "Below the centre's age of majority, documented consent of a parent or guardian is on " +
			"record before the water.",
		Source: "ISO 24803:2017 cl. 4.1 (seen); the age is the centre's, 18 unless set"}
	NotFit = finding.Rule{ID: "roster.not_fit", Severity: finding.Forbidden, Papers: true,
		Title: "Nobody marked not fit gets into the water",
		Text: "Any of the crew may mark a person not fit today; the instructor in charge of them that " +
			"day may lift the mark with a reason; where there is none, another instructor.",
		Source: "our choice"}
	PapersNotInOrder = finding.Rule{ID: "roster.papers_not_in_order", Severity: finding.Forbidden,
		Title: "What is on record of a person is not in order",
		Text: "A paper, a medical, a consent or a mark of unfitness speaks against a person. A program " +
			"without the scope papers:read sees this rule in the place of the one that spoke, with its " +
			"severity, once for each person. What it is, the crew see.",
		Source: "our choice"}
	DoubleBooked = finding.Rule{ID: "roster.double_booked", Severity: finding.Forbidden,
		Title:  "Nobody is in two places at once",
		Text:   "A person is on one session at a time. Sessions that touch end to start do not overlap.",
		Source: "common practice"}
	SecondCount = finding.Rule{ID: "roster.second_count", Severity: finding.Caution,
		Title: "Two people count",
		Text: "Before departure, after each dive and before the return, two people count heads " +
			"independently, each enters their own figure with their own token, and the figures are " +
			"compared and written down. What a person enters for another, and what a program enters, is " +
			"kept and is not one of the two. One of the crew alone counts twice, the second time by name.",
		Source: "Queensland 2011, head count before departure by two people (seen); whose token it is, and " +
			"the count by name, are our choice"}
	HeadCountAlarm = finding.Rule{ID: "roster.head_count_alarm", Severity: finding.Forbidden,
		Title: "Head counts that do not agree are an alarm",
		Text: "Each count is held against what it should find at its own moment: everybody on the " +
			"outing's list, and after a dive those of them who are not logged in the water. Before " +
			"departure and before the return a time in without a time out is an alarm of its own. The " +
			"counts of a leg agree when the latest of all and the latest of two people each find that. " +
			"Anything else is an alarm, which ends with counts that agree, or when everybody has been " +
			"named, aboard or accounted for. An incident alone ends no alarm.",
		Source: "Queensland 2011, head count before departure by two people (seen); the alarm is our choice"}
	HeadsNotSettled = finding.Rule{ID: "roster.heads_not_settled", Severity: finding.Forbidden,
		Title: "Nobody goes in while heads are not settled",
		Text: "Where the leg of an outing that was counted last is an alarm, or was counted by one " +
			"person alone, no session of the outing is opened until two counts agree or everybody has been " +
			"named, aboard or accounted for. A time in meanwhile is recorded with this finding, and so is " +
			"the end of a session.",
		Source: "our choice"}
	HeadsNotCounted = finding.Rule{ID: "roster.heads_not_counted", Severity: finding.Caution,
		Title: "Heads are counted before people go in",
		Text: "An outing with guests or several sessions is counted before departure and after each " +
			"dive. Where nobody has, the person who opens the next session accepts it.",
		Source: "Queensland 2011, head count before departure by two people (seen); that it stops nothing " +
			"is our choice"}
	WrongSite = finding.Rule{ID: "roster.wrong_site", Severity: finding.Forbidden,
		Title:  "The site has the water that the session needs",
		Text:   "A confined-water session is held at a confined site, an open-water session at an open one.",
		Source: "common practice"}
	NotQualified = finding.Rule{ID: "roster.not_qualified", Severity: finding.Forbidden,
		Title: "Crew have the role at the centre that their part needs",
		Text: "Only an instructor is in charge of a group or signs; assistants work under an " +
			"instructor's direct supervision and are not responsible for a group.",
		Source: "Québec, recreational diving regulation r. 8 s. 3.1 (seen)"}
	OutOfOrder = finding.Rule{ID: "roster.session_out_of_order", Severity: finding.Forbidden,
		Title: "Confined water comes before open water",
		Text: "An open-water session of a course starts after a confined-water session of that course " +
			"has ended.",
		Source: "a skill is met in confined water before it is tried in open water: common practice"}
	DiveOutOfOrder = finding.Rule{ID: "roster.dive_out_of_order", Severity: finding.Forbidden,
		Title: "Training dives are planned in their order",
		Text: "A training dive is not planned before one with a lower number in the same course, unless " +
			"that one is planned before as well and is only repeated later, for those who missed it.",
		Source: "training organisations' manuals: later training dives go deeper (seen)"}
)

// Rules returns the rules of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{CrewPaper, AssistantUncounted, StudentPaper, MedicalFlagged, MedicalMissing,
		MinorConsent, NotFit, PapersNotInOrder, DoubleBooked, SecondCount, HeadCountAlarm, HeadsNotSettled,
		HeadsNotCounted, WrongSite, NotQualified, OutOfOrder, DiveOutOfOrder}
}
