package people

import "tankside/internal/finding"

// PaperNotInForce is the note on a paper that has lapsed or does not count yet. It
// may be recorded for the past, and the caller should notice.
var PaperNotInForce = finding.Rule{
	ID: "people.paper_not_in_force", Title: "A paper that is not in force today", Severity: finding.Note,
	Source: "our choice", Papers: true,
	Text: "A paper counts from the day on which it was issued to its last day, both included. " +
		"One that is recorded outside of these days is kept, and lets nobody into the water today.",
}

// NotSeenHere is the note on a paper that no member of the staff saw.
var NotSeenHere = finding.Rule{
	ID: "people.paper_not_seen_here", Title: "A paper that no second person here has seen",
	Severity: finding.Note, Source: "our choice", Papers: true,
	Text: "Nobody records their own papers. Where nobody else may, the operator of the " +
		"service records them and names who saw them; they count, and show that no second person of the " +
		"centre has seen them.",
}

// Rules returns the rules of this package.
func Rules() []finding.Rule {
	return []finding.Rule{BadLine, ThereAlready,
		PaperNotInForce, NotSeenHere}
}
