// Package ratio judges how many students a crew may take.
//
// It owns the rule books, as data, and the one way to apply them: the strictest of the books that a
// centre applies counts. It must not know how a group is stored, who placed its students, what day
// it is or which assistant's insurance has lapsed. The caller works out the ages on the day and the
// number of assistants who count.
//
// The figures are aids to people who decide. Local law, the centre's training organisation and the
// instructor in charge come first; a group within its limit is not thereby a safe one.
package ratio

import (
	"tankside/internal/finding"
	"tankside/internal/units"
)

// Setting is the kind of place where a group is taught.
type Setting string

// The settings. Ratios are for the water: Theory has none.
const (
	Theory   Setting = "theory"
	Confined Setting = "confined" // a pool, or open water with a pool's conditions
	Open     Setting = "open"
)

// Level is what a group does, as far as rule books distinguish it.
type Level string

// The levels.
const (
	Introductory Level = "introductory" // a first dive that certifies nothing
	EntryLevel   Level = "entry_level"  // training for a first certificate
	Supervised   Level = "supervised"   // certified divers who dive only beside a leader (ISO 24801-1)
	Guided       Level = "guided"       // certified divers who follow a leader
)

// Unlimited is the number of places where no ratio applies: in theory. It is
// larger than any class and fits a database's integer.
const Unlimited = 1_000_000

// Group is the group to judge: one instructor in charge, the students in the water and the further
// crew. The zero Conditions mean that nothing was measured.
type Group struct {
	Setting    Setting
	Level      Level
	Ages       []int // in years, on the day; one for each student who is not sitting out
	Assistants int   // those who count: active and insured, and further instructors
	Uncounted  int   // assistants present who are not active or not insured
	NotDiving  int   // of Assistants, how many will not dive; they count all the same
	Instructor bool  // whether an instructor (for certified divers a leader) is in charge
	Ashore     bool  // whether the one in charge will not dive, and leads from outside the water
	LoweredTo  *int  // the lower limit that the instructor set; nil for none
	Conditions Conditions
	MaxDepth   *units.Depth    // as planned; nil when not known yet
	Bottom     *units.Depth    // of the site; nil when not known
	Subject    finding.Subject // what the findings are about, usually the group's id
}

// Conditions are the measured or expected conditions in the water; nil is unknown.
type Conditions struct {
	Visibility  *units.Depth
	Current     *units.Speed
	Temperature *units.Temperature
}

// Verdict is the books' judgement of a group.
type Verdict struct {
	// Places is the most students of this group: it is allowed exactly when it has no more. A
	// composition that is itself forbidden has 0.
	Places   int
	Findings finding.List
	Book     string // id of the book that set the figure, "" where none did
	Books    []Book // the books judged by, as handed to Judge
}

// Edition identifies the version of a book that was judged by.
type Edition struct{ ID, Version string }

// Editions returns the ids and versions of the books judged by, for the record.
func (v Verdict) Editions() []Edition {
	out := make([]Edition, len(v.Books))
	for i := range v.Books {
		out[i] = Edition{v.Books[i].ID, v.Books[i].Version}
	}
	return out
}

// Judge returns the most students that the group may have by the strictest of the books, with all
// findings.
//
// A group of n students is allowed if and only if n <= Places, and that is so if and only if no
// finding forbids. An empty group is always allowed; a finding that would forbid its first student
// is then a note. Theory has Unlimited places.
func Judge(books []Book, g Group) Verdict {
	v := Verdict{Places: Unlimited, Books: books}
	if g.Setting == Theory {
		return v
	}
	r := rule(books, &g)
	v.Places = r.allowed(&g)
	if r.book != nil {
		v.Book = r.book.ID
	}
	v.forbid(books, &g, r)
	v.caution(books, &g)
	v.note(books, &g, r)
	return v
}
