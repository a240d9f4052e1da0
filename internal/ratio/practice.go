package ratio

import "tankside/internal/units"

// Two choices of ours hold for all books here. A book that names no age does not cover children
// under 10, the least age of junior grades (training organisations' practice). A book that names no
// water covers any.
const leastAge = 10

// Builtin returns the built-in rule books, each call its own copy. A centre applies those that it
// chooses, and its own book beside them.
func Builtin() []Book {
	return []Book{
		generalOpen(), generalConfined(), wideConfined(), generalMinors(),
		queensland(), thailand(), france(), murcia(), supervisedDivers(),
	}
}

// BuiltinEdition returns the built-in book of an id in one of its editions. A book that is
// changed keeps its editions before here, since decisions are judged again by the edition of
// their day.
func BuiltinEdition(id, version string) (Book, bool) {
	for _, b := range Builtin() {
		if b.ID == id && b.Version == version {
			return b, true
		}
	}
	return Book{}, false
}

// GeneralPractice returns the ids of the books of usual practice for entry-level training: open
// water, confined water, and minors in either.
func GeneralPractice() []string {
	return []string{"general-open", "general-confined", "general-minors"}
}

// generalOpen returns the book of usual practice in open water: 8/10/12, never above 12, for
// students of 15 or more.
func generalOpen() Book {
	return Book{
		ID: "general-open", Title: "General practice, open water", Kind: Practice, Version: "1",
		Source: "three training organisations' instructor manuals; the October 2004 minimum course content " +
			"for open-water divers agrees (that one from memory)",
		Status: Seen,
		Lines: []Line{{
			Title: "adults, entry level", Settings: []Setting{Open}, Levels: []Level{EntryLevel},
			AgeFrom: 15, Places: []int{8, 10, 12}, Cap: 12, Conditions: asConditionsDictate(),
		}},
	}
}

// generalConfined returns the book of usual practice in confined water: 8/10/12, never above 12,
// for students of 15 or more.
func generalConfined() Book {
	return Book{
		ID: "general-confined", Title: "General practice, confined water", Kind: Practice, Version: "1",
		Source: "two training organisations' instructor manuals", Status: Seen,
		Lines: []Line{{
			Title: "adults, entry level", Settings: []Setting{Confined}, Levels: []Level{EntryLevel},
			AgeFrom: 15, Places: []int{8, 10, 12}, Cap: 12,
		}},
	}
}

// wideConfined returns the book of a wider practice in confined water: 10, and 4 more for each
// assistant, without the cap of 12.
func wideConfined() Book {
	return Book{
		ID: "general-confined-wide", Title: "General practice, confined water, wide",
		Kind: Practice, Version: "1",
		Source: "one training organisation's older instructor manual", Status: Seen,
		Lines: []Line{{
			Title: "adults, entry level", Settings: []Setting{Confined}, Levels: []Level{EntryLevel},
			AgeFrom: 15, Places: []int{10}, PerAssistant: 4,
		}},
	}
}

// generalMinors returns the book of usual practice with minors: 4/6/8 with anyone aged 10 to 14; at
// most two under-12s for each of the crew, and then nobody else under 15. The manual is about
// training; applying the limit to introductory dives as well is our choice.
func generalMinors() Book {
	entry := Line{
		Title: "anyone aged 10 to 14", Settings: []Setting{Confined, Open}, Levels: []Level{EntryLevel},
		AgeFrom: leastAge, AgeTo: 14, MinAge: leastAge, Places: []int{4, 6, 8},
		Young: &Mix{Below: 12, PerHead: 2, OthersFrom: 15},
	}
	first := entry
	first.Levels, first.OnlyLimits = []Level{Introductory}, true
	first.Young = &Mix{Below: 12, PerHead: 2, OthersFrom: 15}
	return Book{
		ID: "general-minors", Title: "General practice, minors", Kind: Practice, Version: "1",
		Source: "one training organisation's instructor manual, 2024", Status: Seen,
		Lines: []Line{entry, first},
	}
}

// supervisedDivers returns the book for supervised divers: 4 certified divers of the lowest grade
// for a leader, to 12 m.
func supervisedDivers() Book {
	return Book{
		ID: "iso-24801-1", Title: "Supervised divers with a leader", Kind: Standard, Version: "1",
		Source: "ISO 24801-1:2014 clause 4, in a certification body's summary", Status: Seen,
		Lines: []Line{{
			Title: "supervised divers", Settings: []Setting{Confined, Open}, Levels: []Level{Supervised},
			AgeFrom: leastAge, Places: []int{4}, MaxDepth: 12 * units.Metre,
			Conditions: []Condition{{Text: "the leader must be able to touch each of the divers"}},
		}},
	}
}

// asConditionsDictate returns the conditions of the manuals: they have no figure, and the
// instructor decides.
func asConditionsDictate() []Condition {
	const text = "the instructor reduces the number as conditions dictate"
	return []Condition{
		{Text: text, Cause: Visibility}, {Text: text, Cause: Current}, {Text: text, Cause: Cold},
	}
}
