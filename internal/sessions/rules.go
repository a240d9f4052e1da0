package sessions

import "tankside/internal/finding"

// The rules that findings of this package itself come from; ratio and roster
// have theirs.
var (
	EnrolmentNotActive = finding.Rule{ID: "sessions.enrolment_not_active", Severity: finding.Forbidden,
		Title:  "Only active enrolments take part",
		Text:   "A student takes part in a session by an active enrolment: not while waiting, and not after a withdrawal, a transfer or the completion.",
		Source: "our choice"}
	OtherSyllabus = finding.Rule{ID: "sessions.other_syllabus", Severity: finding.Forbidden,
		Title:  "A make-up is by the same syllabus",
		Text:   "A student may make up a missed session in another course that is taught by the same syllabus; by another, nothing done there would count.",
		Source: "our choice"}
	NoSuchGroup = finding.Rule{ID: "sessions.no_such_group", Severity: finding.Forbidden,
		Title:  "A placement needs a group in every session",
		Text:   "Placing an enrolment into several sessions needs, in each of them, a group of the name given, or exactly one group.",
		Source: "our choice"}
	Ungrouped = finding.Rule{ID: "sessions.ungrouped", Severity: finding.Forbidden,
		Title:  "Everybody in the water belongs to a group",
		Text:   "When a water session is opened, or joined while under way, every student who does not sit out is in a group with an instructor in charge.",
		Source: "ratios are per group: training organisations' manuals (seen)"}
	NotBriefed = finding.Rule{ID: "sessions.not_briefed", Severity: finding.Forbidden,
		Title:  "Nobody gets into the water unbriefed",
		Text:   "A water session, in confined water too, is opened, and joined while under way, only when everybody who does not sit out has acknowledged the newest briefing that names them. What happened in the water is recorded without one, with a finding.",
		Source: "common practice: the group is briefed, and agrees its signals, before the dive; the acknowledgement is our choice"}
	PlacedOtherwise = finding.Rule{ID: "sessions.placed_otherwise", Severity: finding.Caution,
		Title:  "Roll calls agree on who came unexpected",
		Text:   "Of several roll calls that bring the same unexpected person, the earliest one that stands gives role, group and enrolment until a person decides; the others stand, and are pointed out where they say otherwise.",
		Source: "our choice"}
	TakenOffNamed = finding.Rule{ID: "sessions.taken_off_named", Severity: finding.Note,
		Title:  "Whom a record names stays in the list",
		Text:   "A student who withdraws or is transferred is taken off every session that is still planned. Where a record of the session names the person, such as a roll call, the part stays in its list: in no group, absent, free for other sessions, and placed anew like anybody.",
		Source: "our choice: what was witnessed names whom it was witnessed of"}
	EndTheDive = finding.Rule{ID: "sessions.end_the_dive", Severity: finding.Forbidden,
		Title:  "A group over its ratio ends the dive",
		Text:   "A group in the water that lost its clearance ends the dive. The instructor in charge decides how.",
		Source: "our choice"}
)

// Rules lists the rules of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{EnrolmentNotActive, OtherSyllabus, NoSuchGroup, Ungrouped, NotBriefed,
		PlacedOtherwise, TakenOffNamed, EndTheDive}
}
