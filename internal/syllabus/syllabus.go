// Package syllabus judges training by a syllabus: what a course teaches and in which order, the
// criterion of each skill, who may sign it off on which evidence, a student's progress, when a
// student may dive, and when a course is complete.
//
// It owns the rules and the built-in entry-level syllabus. It must not know where records are kept,
// what time it is, who is calling or how an answer is sent: a caller passes values and the day, and
// gets the findings of its rules. It judges records, never whether a dive is safe: local law, the
// training organisation and the instructor in charge come first.
package syllabus

import "slices"

// Level is the level of the people that a syllabus is for.
type Level string

// The levels, spelt as the ratio rule books spell them.
const (
	Introductory Level = "introductory" // a first dive that certifies nothing
	EntryLevel   Level = "entry_level"  // training for a first certificate
	Supervised   Level = "supervised"   // certified divers who dive only beside a leader (ISO 24801-1)
	Guided       Level = "guided"       // certified divers who follow a leader
)

// Setting is the kind of place where something is taught.
type Setting string

// The settings. A theory skill may be shown in any setting; a confined-water
// skill only in confined water, an open-water skill only in open water.
const (
	Theory   Setting = "theory"
	Confined Setting = "confined"
	Open     Setting = "open"
)

// Area is the subject of a skill. The rules know Watermanship: it comes before everything in open
// water. A syllabus may name further areas.
type Area string

// The areas of the built-in syllabus.
const (
	Watermanship Area = "watermanship"
	Kit          Area = "kit"
	Breathing    Area = "breathing"
	Mask         Area = "mask"
	Buoyancy     Area = "buoyancy"
	Gas          Area = "gas"
	Ascent       Area = "ascent"
	Assistance   Area = "assistance"
	Orientation  Area = "orientation"
	Planning     Area = "planning"
)

// Role is a student's part in a drill for two.
type Role string

// The roles of a drill that shares gas.
const (
	Donor    Role = "donor"
	Receiver Role = "receiver"
)

// Proof is what a sign-off of a skill has to rest on.
type Proof string

// The kinds of proof, each asking more than the one before.
const (
	Witnessed Proof = "witnessed" // the signer saw it done
	Attempted Proof = "attempt"   // and there is a recorded attempt that met the criterion
	Measured  Proof = "measured"  // and every measure of the criterion was recorded
)

// Years is an age in completed years on the day judged.
type Years int

// Day is a calendar day in the session's zone, written as 2006-01-02, so that
// days compare as texts do. The empty Day is unknown.
type Day string

// Syllabus is one version of what a course teaches. Its json tags are the form
// in which a version is stored.
type Syllabus struct {
	Code   string `json:"code"`
	Title  string `json:"title"`
	Level  Level  `json:"level"`
	Note   string `json:"note,omitempty"`
	MinAge Years  `json:"min_age"`
	// younger students complete at a junior grade; 0 for no such grade
	FullAge          Years    `json:"full_age,omitempty"`
	ConfinedMaxDepth Quantity `json:"confined_max_depth,omitzero"`
	MostDivesADay    int      `json:"most_dives_a_day,omitempty"` // open-water dives, 0 for no limit
	LeastDiveTime    Quantity `json:"least_dive_time,omitzero"`   // all training dives together
	// older evidence is not signed on; 0 for no limit
	EvidenceDays int         `json:"evidence_days,omitempty"`
	SignerPapers []PaperKind `json:"signer_papers"` // the papers that a signer must hold on the day
	// the sources of the figures above, by json name
	Sources map[string]string `json:"sources,omitempty"`
	Theory  []TheoryPart      `json:"theory"`
	Skills  []Skill           `json:"skills"`
	Dives   []TrainingDive    `json:"dives"`
}

// ForStore returns the version with an empty list in place of each nil one: JSON would write null,
// which SQL does not read as a list.
func (s Syllabus) ForStore() Syllabus {
	s.SignerPapers, s.Theory = append([]PaperKind{}, s.SignerPapers...), append([]TheoryPart{}, s.Theory...)
	s.Skills, s.Dives = append([]Skill{}, s.Skills...), append([]TrainingDive{}, s.Dives...)
	for i := range s.Skills {
		ways := slices.Clone(s.Skills[i].Criterion.EitherOf)
		for n := range ways {
			ways[n].Measures = append([]Measure{}, ways[n].Measures...)
		}
		s.Skills[i].Criterion.EitherOf = ways
	}
	return s
}

// TheoryPart is one part of the theory, passed at its mark.
type TheoryPart struct {
	Code     string   `json:"code"`
	Title    string   `json:"title"`
	PassMark Quantity `json:"pass_mark"` // percent
	Source   string   `json:"source,omitempty"`
}

// Skill is something a student must be seen to do.
type Skill struct {
	Code    string  `json:"code"`
	Title   string  `json:"title"`
	Setting Setting `json:"setting"`
	Area    Area    `json:"area"`
	// the confined-water skill that this one repeats in open water; a prerequisite
	Repeats       string   `json:"repeats,omitempty"`
	Prerequisites []string `json:"prerequisites,omitempty"` // codes of skills
	Roles         []Role   `json:"roles,omitempty"`         // evidence is needed in each of them
	// is about reading, reporting, sharing or running out of gas
	TouchesGas bool `json:"touches_gas,omitempty"`
	// the first training dive on which it may be tried, 0 for any
	EarliestDive int       `json:"earliest_dive,omitempty"`
	Proof        Proof     `json:"proof"`
	Criterion    Criterion `json:"criterion"`
}

// Criterion is when a skill is met: what must be seen, and what can be measured. All of Measures
// must hold, and one of EitherOf where there are any.
type Criterion struct {
	Text     string    `json:"text"`
	Measures []Measure `json:"measures,omitempty"`
	EitherOf []Way     `json:"either_of,omitempty"`
	Source   string    `json:"source,omitempty"`
}

// Way is one of several ways to meet a criterion.
type Way struct {
	Title    string    `json:"title"`
	Measures []Measure `json:"measures"`
}

// Measure is one measurable limit of a criterion.
type Measure struct {
	Name    string    `json:"name"` // kebab-case, the same in an attempt
	AtLeast *Quantity `json:"at_least,omitempty"`
	AtMost  *Quantity `json:"at_most,omitempty"`
	Source  string    `json:"source,omitempty"`
}

// TrainingDive is one of the numbered open-water dives of a syllabus.
type TrainingDive struct {
	Number        int        `json:"number"` // from 1
	MaxDepth      Quantity   `json:"max_depth"`
	ByAge         []AgeDepth `json:"by_age,omitempty"`
	LeastDepth    Quantity   `json:"least_depth,omitzero"`
	LeastDuration Quantity   `json:"least_duration"`
	// codes of skills and theory parts; a later dive needs them too
	Prerequisites []string `json:"prerequisites,omitempty"`
	Source        string   `json:"source,omitempty"`
}

// AgeDepth is a depth limit for those under an age.
type AgeDepth struct {
	Under    Years    `json:"under"`
	MaxDepth Quantity `json:"max_depth"`
}

// Skill returns the skill with that code, nil when there is none.
func (s Syllabus) Skill(code string) *Skill {
	for i := range s.Skills {
		if s.Skills[i].Code == code {
			return &s.Skills[i]
		}
	}
	return nil
}

// TheoryPart returns the part of the theory with that code, nil when there is none.
func (s Syllabus) TheoryPart(code string) *TheoryPart {
	for i := range s.Theory {
		if s.Theory[i].Code == code {
			return &s.Theory[i]
		}
	}
	return nil
}

// Dive returns the training dive with that number, nil when there is none.
func (s Syllabus) Dive(number int) *TrainingDive {
	for i := range s.Dives {
		if s.Dives[i].Number == number {
			return &s.Dives[i]
		}
	}
	return nil
}

// Before returns the codes of all skills that come before the skill of that code:
// the confined-water skill that it repeats, its prerequisites, and, for an
// open-water skill that is not itself watermanship, all of the watermanship.
func (s Syllabus) Before(code string) []string {
	k := s.Skill(code)
	if k == nil {
		return nil
	}
	var out []string
	add := func(c string) {
		if c != "" && !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	add(k.Repeats)
	for _, p := range k.Prerequisites {
		add(p)
	}
	if k.Setting == Open && k.Area != Watermanship {
		for i := range s.Skills {
			if s.Skills[i].Area == Watermanship {
				add(s.Skills[i].Code)
			}
		}
	}
	return out
}

// DiveBefore returns the codes of all skills and theory parts that come before
// the training dive of that number: its own and those of every earlier dive.
func (s Syllabus) DiveBefore(number int) []string {
	var out []string
	for _, d := range s.Dives {
		if d.Number > number {
			continue
		}
		for _, p := range d.Prerequisites {
			if !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
	}
	return out
}

// measures returns every measure of the criterion, those of all ways included.
func (c Criterion) measures() []Measure {
	out := slices.Clone(c.Measures)
	for _, w := range c.EitherOf {
		out = append(out, w.Measures...)
	}
	return out
}
