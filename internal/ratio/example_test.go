package ratio_test

import (
	"fmt"

	"tankside/internal/finding"
	"tankside/internal/ratio"
	"tankside/internal/units"
)

// say prints what a rule has to say about a group of entry-level students.
func say(r finding.Rule, ids []string, change func(*ratio.Group)) {
	applied, err := ratio.Select(ids, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	g := ratio.Group{Setting: ratio.Open, Level: ratio.EntryLevel, Instructor: true, Ages: []int{34, 27}}
	change(&g)
	for _, f := range ratio.Judge(applied, g).Findings.Of(r) {
		fmt.Printf("%s: %s\n", f.Severity, f.Message)
	}
}

func ExampleJudge() {
	applied, _ := ratio.Select(ratio.GeneralPractice(), nil)
	v := ratio.Judge(applied, ratio.Group{
		Setting: ratio.Open, Level: ratio.EntryLevel, Instructor: true, Assistants: 1, Ages: []int{34, 27, 13},
	})
	fmt.Println(v.Places, "places by", v.Book)
	// Output: 6 places by general-minors
}

func ExampleTooManyStudents() {
	say(ratio.TooManyStudents, ratio.GeneralPractice(), func(g *ratio.Group) { g.Ages = aged(9, 30) })
	// Output: forbidden: 9 students are too many with no assistant: the limit is 8 (General practice, open water: adults, entry level).
}

func ExampleAboveLoweredLimit() {
	one := 1
	say(ratio.AboveLoweredLimit, ratio.GeneralPractice(), func(g *ratio.Group) { g.LoweredTo = &one })
	// Output: forbidden: 2 students are more than the 1 to which the instructor lowered the limit.
}

func ExampleNoNumber() {
	say(ratio.NoNumber, []string{"general-open"}, func(g *ratio.Group) { g.Setting = ratio.Confined })
	say(ratio.NoNumber, []string{"general-open"}, func(g *ratio.Group) { g.Ages[1] = 14 })
	// Output:
	// forbidden: No rule book that the centre applies sets a number for entry-level training in confined water.
	// forbidden: No rule book that the centre applies sets a number for entry-level training in open water with a student aged 14.
}

func ExampleNoInstructor() {
	say(ratio.NoInstructor, ratio.GeneralPractice(), func(g *ratio.Group) { g.Instructor = false })
	// Output: forbidden: The group has no instructor in charge.
}

func ExampleBelowMinimumAge() {
	say(ratio.BelowMinimumAge, ratio.GeneralPractice(), func(g *ratio.Group) { g.Ages[1] = 9 })
	// Output: forbidden: A student is 9 years old, and the least age is 10 (General practice, minors: anyone aged 10 to 14).
}

func ExampleTooManyYoung() {
	say(ratio.TooManyYoung, ratio.GeneralPractice(), func(g *ratio.Group) { g.Ages = aged(3, 11) })
	// Output: forbidden: 3 students under 12 are too many with no assistant: at most 2 for each of the crew (General practice, minors).
}

func ExampleYoungWithOthers() {
	say(ratio.YoungWithOthers, ratio.GeneralPractice(), func(g *ratio.Group) { g.Ages = []int{11, 13} })
	// Output: forbidden: With a student under 12 in the group everybody else must be 15 or older (General practice, minors).
}

func ExampleTooDeep() {
	deep := 25 * units.Metre
	say(ratio.TooDeep, []string{"france"}, func(g *ratio.Group) { g.MaxDepth = &deep })
	// Output: forbidden: 25 m is planned, and the figure holds down to 20 m (France: beginners' training).
}

func ExampleConditionOfBook() {
	murky := 1.5 * units.Metre
	say(ratio.ConditionOfBook, ratio.GeneralPractice(),
		func(g *ratio.Group) { g.Conditions.Visibility = &murky })
	// Output: caution: General practice, open water (visibility 1.5 m) asks for judgement: the instructor reduces the number as conditions dictate.
}

func ExampleDemandingConditions() {
	cold := units.Celsius(7)
	say(ratio.DemandingConditions, []string{"thailand-2025"},
		func(g *ratio.Group) { g.Conditions.Temperature = &cold })
	// Output: caution: Demanding conditions (water 7 °C): the instructor reduces the number as conditions dictate.
}

func ExampleReducedByConditions() {
	house := ratio.Book{
		ID: "house", Title: "House rules", Kind: ratio.Own, Source: "set by the centre", Status: ratio.Set,
		Version: "3",
		Lines: []ratio.Line{{
			Title: "the quay", Settings: []ratio.Setting{ratio.Open}, Levels: []ratio.Level{ratio.EntryLevel},
			Places: []int{6, 8},
			Conditions: []ratio.Condition{{
				Text: "2 fewer in murky water", Cause: ratio.Visibility, Beyond: units.Read(5, units.UnitMetre),
				Fewer: 2,
			}},
		}},
	}
	murky := 4 * units.Metre
	g := ratio.Group{Setting: ratio.Open, Level: ratio.EntryLevel, Instructor: true, Ages: []int{34, 27}}
	g.Conditions.Visibility = &murky
	fmt.Println(ratio.Judge([]ratio.Book{house}, g).Findings.Of(ratio.ReducedByConditions)[0].Message)
	// Output: In these conditions the limit is 4 instead of 6 (House rules).
}

func ExampleAssistantNotCounted() {
	say(ratio.AssistantNotCounted, ratio.GeneralPractice(), func(g *ratio.Group) { g.Uncounted = 1 })
	// Output: note: Not counted: 1 assistant. An assistant counts who is active and insured.
}

func ExampleDepthNotKnown() {
	say(ratio.DepthNotKnown, []string{"france"}, func(*ratio.Group) {})
	// Output: note: The figure holds down to 20 m, and no depth is planned yet (France: beginners' training).
}

func ExampleLimitNotRaised() {
	twenty := 20
	say(ratio.LimitNotRaised, ratio.GeneralPractice(), func(g *ratio.Group) { g.LoweredTo = &twenty })
	// Output: note: A limit of 20 was asked for; the limit stays 8.
}

func ExampleValidate() {
	fmt.Println(ratio.Validate(ratio.Book{
		ID: "house", Title: "House rules", Kind: ratio.Own, Source: "set by the centre", Status: ratio.Set,
		Version: "1",
		Lines: []ratio.Line{{
			Title: "the quay", Settings: []ratio.Setting{ratio.Open}, Levels: []ratio.Level{ratio.EntryLevel},
			Places: []int{8, 6},
		}},
	}))
	// Output: /lines/0/places/1: 6 is less than 8 with one assistant fewer
}
