package syllabus_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
	"tankside/internal/units"
)

func TestTheBuiltInSyllabusIsValid(t *testing.T) {
	require.Empty(t, syllabus.Validate(syllabus.BuiltIn()))
}

// index gives the place of a skill in the built-in syllabus.
func index(s syllabus.Syllabus, code string) int {
	return slices.IndexFunc(s.Skills, func(k syllabus.Skill) bool { return k.Code == code })
}

func TestASpoiltSyllabusIsRefused(t *testing.T) {
	type c = syllabus.Syllabus
	hover := index(syllabus.BuiltIn(), "hover")
	at := func(rest string) string { return fmt.Sprintf("/skills/%d%s", hover, rest) }
	edit := func(f func(*syllabus.Skill)) func(*c) { return func(s *c) { f(&s.Skills[hover]) } }
	deep, no := metres(21), syllabus.Quantity{}
	for _, x := range []struct {
		name    string
		spoil   func(*c)
		rule    finding.Rule
		pointer string
	}{
		{"no title", func(s *c) { s.Title = " " }, syllabus.MissingText, "/title"},
		{"a code in capitals", func(s *c) { s.Code = "First" }, syllabus.BadCode, "/code"},
		{"an unknown level", func(s *c) { s.Level = "expert" }, syllabus.UnknownWord, "/level"},
		{"a negative age", func(s *c) { s.MinAge = -1 }, syllabus.BadFigure, "/min_age"},
		{"negative dives a day", func(s *c) { s.MostDivesADay = -1 }, syllabus.BadFigure, ""},
		{"dive time in metres", func(s *c) { s.LeastDiveTime = metres(80) }, syllabus.BadFigure,
			"/least_dive_time"},
		{"an unknown paper", func(s *c) { s.SignerPapers[0] = "licence" }, syllabus.UnknownWord,
			"/signer_papers/0"},
		{"no skills", func(s *c) { s.Skills = nil }, syllabus.MissingText, "/skills"},
		{"too many skills", func(s *c) { s.Skills = slices.Repeat(s.Skills, 10) }, syllabus.BadFigure,
			"/skills"},
		{"a pass mark over 100", func(s *c) { s.Theory[1].PassMark = percent(101) }, syllabus.BadFigure,
			"/theory/1/pass_mark"},
		{"a pass mark in points", func(s *c) { s.Theory[1].PassMark = syllabus.CountOf(8) }, syllabus.BadFigure,
			"/theory/1/pass_mark"},
		{"a code used twice", edit(func(k *syllabus.Skill) { k.Code = "descent" }), syllabus.DuplicateCode,
			at("/code")},
		{"a skill named like a theory part", edit(func(k *syllabus.Skill) { k.Code = "pressure" }),
			syllabus.DuplicateCode, at("/code")},
		{"no area", edit(func(k *syllabus.Skill) { k.Area = "" }), syllabus.MissingText, at("/area")},
		{"an unknown setting", edit(func(k *syllabus.Skill) { k.Setting = "pool" }), syllabus.UnknownWord,
			at("/setting")},
		{"an unknown proof", edit(func(k *syllabus.Skill) { k.Proof = "" }), syllabus.UnknownWord,
			at("/proof")},
		{"an unknown role", edit(func(k *syllabus.Skill) { k.Roles = []syllabus.Role{"leader"} }),
			syllabus.UnknownWord, at("/roles/0")},
		{"roles that need no attempt",
			edit(func(k *syllabus.Skill) {
				k.Roles, k.Proof = []syllabus.Role{syllabus.Donor},
					syllabus.Witnessed
			}), syllabus.BadFigure, at("/proof")},
		{"measured without measures", edit(func(k *syllabus.Skill) { k.Criterion.Measures = nil }),
			syllabus.BadMeasure, at("/criterion")},
		{"a first dive for a confined-water skill", edit(func(k *syllabus.Skill) { k.EarliestDive = 1 }),
			syllabus.BadFigure, at("/earliest_dive")},
		{"an unknown prerequisite", edit(func(k *syllabus.Skill) { k.Prerequisites = []string{"juggling"} }),
			syllabus.UnknownPrerequisite, at("/prerequisites/0")},
		{"a prerequisite twice",
			edit(func(k *syllabus.Skill) {
				k.Prerequisites = []string{"descent",
					"descent"}
			}), syllabus.DuplicateCode, at("/prerequisites/1")},
		{"a skill before itself", edit(func(k *syllabus.Skill) { k.Prerequisites = []string{"hover"} }),
			syllabus.PrerequisiteCycle, at("/prerequisites")},
		{"a circle of three", func(s *c) { s.Skills[index(*s, "descent")].Prerequisites = []string{"hover"} },
			syllabus.PrerequisiteCycle, at("/prerequisites")},
		{"confined water after open water",
			edit(func(k *syllabus.Skill) { k.Prerequisites = []string{"compass"} }), syllabus.ConfinedAfterOpen, at("/prerequisites")},
		{"confined water that repeats", edit(func(k *syllabus.Skill) { k.Repeats = "descent" }),
			syllabus.UntriedInConfined, at("/repeats")},
		{"no criterion", edit(func(k *syllabus.Skill) { k.Criterion.Text = "" }), syllabus.MissingCriterion,
			at("/criterion/text")},
		{"a measure without a limit", edit(func(k *syllabus.Skill) { k.Criterion.Measures[0].AtLeast = nil }),
			syllabus.BadMeasure, at("/criterion/measures/0")},
		{"a measure nothing can meet", edit(func(k *syllabus.Skill) {
			k.Criterion.Measures[0].AtMost = &syllabus.Quantity{Value: 100, Unit: units.UnitSecond}
		}), syllabus.BadMeasure, at("/criterion/measures/0")},
		{"limits of two kinds", edit(func(k *syllabus.Skill) { k.Criterion.Measures[0].AtMost = &deep }),
			syllabus.BadMeasure, at("/criterion/measures/0")},
		{"a measure twice", edit(func(k *syllabus.Skill) {
			k.Criterion.Measures = append(k.Criterion.Measures, k.Criterion.Measures[0])
		}), syllabus.DuplicateCode, at("/criterion/measures/1/name")},
		{"a way that asks for nothing",
			edit(func(k *syllabus.Skill) { k.Criterion.EitherOf = []syllabus.Way{{Title: "anyhow"}} }), syllabus.BadMeasure, at("/criterion/either_of/0/measures")},
		{"dives out of order", func(s *c) { s.Dives[1].Number = 3 }, syllabus.DiveNumbers, "/dives/1/number"},
		{"a dive without depth", func(s *c) { s.Dives[0].MaxDepth = no }, syllabus.BadFigure,
			"/dives/0/max_depth"},
		{"a dive to 21 m (20 m, ISO 24801-2 cl. 4)", func(s *c) { s.Dives[3].MaxDepth = deep },
			syllabus.DiveLimit, "/dives/3/max_depth"},
		{"children to 18 m (12 m, manuals)", func(s *c) { s.Dives[3].ByAge = nil }, syllabus.DiveLimit,
			"/dives/3/by_age"},
		{"least depth below the greatest", func(s *c) { s.Dives[0].LeastDepth = metres(13) },
			syllabus.BadFigure, "/dives/0/least_depth"},
		{"a dive after something unknown", func(s *c) { s.Dives[0].Prerequisites[0] = "juggling" },
			syllabus.UnknownPrerequisite, "/dives/0/prerequisites/0"},
		{"a first dive after an open-water skill", func(s *c) { s.Dives[0].Prerequisites[0] = "compass" },
			syllabus.DiveOutOfReach, "/dives/0/prerequisites/0"},
		{"a first dive without the swim (common practice)", func(s *c) {
			s.Dives[0].Prerequisites = slices.DeleteFunc(s.Dives[0].Prerequisites,
				func(p string) bool { return p == "swim" })
		}, syllabus.WatermanshipMissing, "/dives/0/prerequisites"},
		{"open water that touches gas and repeats nothing",
			func(s *c) { s.Skills[index(*s, "low-gas-open")].Repeats = "" }, syllabus.UntriedInConfined,
			fmt.Sprintf("/skills/%d/repeats", index(syllabus.BuiltIn(), "low-gas-open"))},
	} {
		t.Run(x.name, func(t *testing.T) {
			s := syllabus.BuiltIn()
			x.spoil(&s)
			found := syllabus.Validate(s)
			require.True(t, found.Forbids())
			pointers := []string{}
			for _, f := range found.Of(x.rule) {
				require.Equal(t, "body", f.In)
				require.NotEmpty(t, f.Message)
				pointers = append(pointers, f.Pointer)
			}
			require.Contains(t, pointers, x.pointer, found)
		})
	}
}

// At least 4 dives of at least 15 min, 80 min in all, at most 3 a day, from 10
// years on: instructor manuals (read). A centre may ask for less, knowingly.
func TestLessThanCommonPracticeIsACaution(t *testing.T) {
	for name, spoil := range map[string]func(*syllabus.Syllabus){
		"three dives":               func(s *syllabus.Syllabus) { s.Dives = s.Dives[:3] },
		"a dive of 12 min":          func(s *syllabus.Syllabus) { s.Dives[0].LeastDuration = minutes(12) },
		"60 min in all":             func(s *syllabus.Syllabus) { s.LeastDiveTime = minutes(60) },
		"no least dive time":        func(s *syllabus.Syllabus) { s.LeastDiveTime = syllabus.Quantity{} },
		"four dives a day":          func(s *syllabus.Syllabus) { s.MostDivesADay = 4 },
		"any number of dives":       func(s *syllabus.Syllabus) { s.MostDivesADay = 0 },
		"students of 8 years":       func(s *syllabus.Syllabus) { s.MinAge = 8 },
		"signers without first aid": func(s *syllabus.Syllabus) { s.SignerPapers = []syllabus.PaperKind{syllabus.TeachingStatus} },
	} {
		t.Run(name, func(t *testing.T) {
			s := syllabus.BuiltIn()
			spoil(&s)
			found := syllabus.Validate(s)
			require.False(t, found.Forbids(), found)
			require.Len(t, found.Of(syllabus.BelowPractice), 1)
		})
	}
}

// 40 ft and 60 ft are how the trade writes 12 m and 18 m where depth is in feet
// (common practice).
func TestDepthsInFeetAreTakenAsTheTradeWritesThem(t *testing.T) {
	s := syllabus.BuiltIn()
	s.Dives[0].MaxDepth, s.Dives[0].ByAge = syllabus.QuantityOf(40, units.UnitFoot), nil
	s.Dives[3].MaxDepth = syllabus.QuantityOf(60, units.UnitFoot)
	require.Empty(t, syllabus.Validate(s))
	s.Dives[0].MaxDepth = syllabus.QuantityOf(41, units.UnitFoot)
	require.NotEmpty(t, syllabus.Validate(s).Of(syllabus.DiveLimit), "for those under 12")
}

// A watermanship skill may be met in open water, before everything else there.
func TestWatermanshipMayBeInOpenWater(t *testing.T) {
	s := syllabus.BuiltIn()
	s.Skills[index(s, "swim")].Setting = syllabus.Open
	s.Skills[index(s, "float")].Setting = syllabus.Open
	found := syllabus.Validate(s)
	require.Empty(t, found.Of(syllabus.PrerequisiteCycle))
}

// Any skill made to come after one that comes after it is a circle, however far
// the way round is.
func TestEveryCircleIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := syllabus.BuiltIn()
		last := rapid.SampledFrom(s.Skills).Draw(t, "last")
		first := last.Code
		for range rapid.IntRange(0, 6).Draw(t, "steps back") {
			if before := s.Before(first); len(before) > 0 {
				first = rapid.SampledFrom(before).Draw(t, "before")
			}
		}
		k := &s.Skills[index(s, first)]
		k.Prerequisites = append(k.Prerequisites, last.Code)
		if len(syllabus.Validate(s).Of(syllabus.PrerequisiteCycle)) == 0 {
			t.Fatalf("%s comes after %s and before it, and nothing is found", first, last.Code)
		}
	})
}

func TestAStoredVersionComesBackTheSame(t *testing.T) {
	s := syllabus.BuiltIn()
	stored, err := json.Marshal(s)
	require.NoError(t, err)
	var back syllabus.Syllabus
	require.NoError(t, json.Unmarshal(stored, &back))
	require.Equal(t, s, back)
}

// Whatever a centre sends as a syllabus, Validate answers; and what it does not
// refuse can be judged by.
func FuzzValidate(f *testing.F) {
	seed, err := json.Marshal(syllabus.BuiltIn())
	require.NoError(f, err)
	f.Add(seed)
	f.Add([]byte(`{"skills":[{"code":"a","prerequisites":["a","b"]},{"code":"b","prerequisites":["a"],"setting":"open"}]}`))
	f.Add([]byte(`{"level":"entry_level","dives":[{"number":1,"max_depth":"60 ft","least_depth":"3","least_duration":"5 m"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var s syllabus.Syllabus
		if json.Unmarshal(data, &s) != nil || syllabus.Validate(s).Forbids() {
			return
		}
		st := finished(syllabus.BuiltIn())
		syllabus.MayComplete(completing(s, st))
		for _, k := range s.Skills {
			syllabus.MaySign(sign(s, st, k.Code, sunday))
		}
	})
}
