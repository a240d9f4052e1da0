package ratio

import "tankside/internal/units"

// queensland returns the book for Queensland: introductory dives 4/6/6, never more than with one
// assistant.
func queensland() Book {
	return Book{
		ID: "queensland-introductory", Title: "Queensland, introductory dives", Kind: Law,
		Jurisdiction: "Queensland", Version: "1",
		Source: "Workplace Health and Safety Queensland, guidance film on the recreational diving code",
		Status: Seen,
		Lines: []Line{{
			Title: "introductory dives", Settings: []Setting{Confined, Open}, Levels: []Level{Introductory},
			AgeFrom: leastAge, Places: []int{4, 6, 6}, Cap: 6,
			Conditions: []Condition{
				{Text: "fewer students of low ability"},
				{Text: "fewer students who understand the language poorly"},
				{Text: "fewer students on a rough surface"},
				{Text: "fewer students in poor visibility", Cause: Visibility},
				{Text: "fewer students in a strong current", Cause: Current},
			},
		}},
	}
}

// thailand returns the book for Thailand: 2 on an introductory dive, 4 in certification training, 4
// guided. The order has no figure for assistants.
func thailand() Book {
	water := []Setting{Confined, Open}
	return Book{
		ID: "thailand-2025", Title: "Thailand 2025", Kind: Law, Jurisdiction: "Thailand", Version: "1",
		Source: "Ministry order in force since 22 April 2025", Status: Seen,
		Lines: []Line{
			{Title: "introductory dives",
				Settings: water, Levels: []Level{Introductory}, AgeFrom: leastAge, Places: []int{2}},
			{Title: "certification training",
				Settings: water, Levels: []Level{EntryLevel}, AgeFrom: leastAge, Places: []int{4}},
			{Title: "guided dives",
				Settings: water, Levels: []Level{Guided, Supervised}, AgeFrom: leastAge, Places: []int{4}},
		},
	}
}

// france returns the book for France: 1 on a first dive to 6 m, 4 beginners to 20 m. A qualified
// guide may join either and adds no place.
func france() Book {
	water := []Setting{Confined, Open}
	guide := Condition{Text: "at most one qualified guide may join the group"}
	return Book{
		ID: "france", Title: "France", Kind: Law, Jurisdiction: "France", Version: "1",
		Source: "Code du sport, annex III-16a (article A322-82)", Status: Seen,
		Lines: []Line{
			{
				Title: "first dives", Settings: water, Levels: []Level{Introductory}, AgeFrom: leastAge,
				Places: []int{1, 1}, MaxDepth: 6 * units.Metre, Conditions: []Condition{guide},
			},
			{
				Title: "beginners' training", Settings: water, Levels: []Level{EntryLevel}, AgeFrom: leastAge,
				Places: []int{4, 4}, MaxDepth: 20 * units.Metre,
				Conditions: []Condition{guide,
					{Text: "the instructor's grade must be the one that the depth asks for"}},
			},
		},
	}
}

// murcia returns the book for Murcia: 2 minors, from 12 years; to 10 m at 12 and 13. A minor is a
// person under 18 (Spanish constitution, article 12; from memory).
func murcia() Book {
	water, levels := []Setting{Confined, Open}, []Level{Introductory, EntryLevel}
	return Book{
		ID: "murcia-minors", Title: "Murcia, minors", Kind: Law, Jurisdiction: "Region of Murcia",
		Version: "1", Source: "regional order of June 2015", Status: Seen,
		Lines: []Line{
			{
				Title: "minors", Settings: water, Levels: levels, AgeFrom: 12, AgeTo: 17, MinAge: 12,
				Places:     []int{2},
				Conditions: []Condition{{Text: "each minor needs the parents' written permission"}},
			},
			{
				Title: "aged 12 and 13", Settings: water, Levels: levels, AgeFrom: 12, AgeTo: 13, MinAge: 12,
				Places: []int{2}, MaxDepth: 10 * units.Metre,
			},
		},
	}
}
