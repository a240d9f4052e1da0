package roster_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/roster"
)

var demands = roster.Demands{CrewPapers: []roster.Kind{roster.TeachingStatus, roster.FirstAid},
	StudentPapers: []roster.Kind{roster.Waiver},
	MedicalSince:  "2025-06-06", Majority: 18}

func paper(kind roster.Kind, outcome string, issued, until roster.Day) roster.Paper {
	return roster.Paper{ID: string(kind) + string(issued), Kind: kind, Outcome: outcome, IssuedOn: issued,
		ValidUntil: until}
}

// First aid within 24 months: training organisations' manuals (seen). Papers
// are in force on both their first and their last day: common practice.
func TestCrewPapersAreValidOnBothEnds(t *testing.T) {
	p := roster.Person{ID: "1", Name: "Ines", Papers: []roster.Paper{
		paper(roster.TeachingStatus, "valid", "2026-01-01", "2026-12-31"), paper(roster.FirstAid, "valid",
			"2024-06-06", "2026-06-06")}}
	require.Empty(t, roster.Crew(demands, p, "2026-06-06"))
	l := roster.Crew(demands, p, "2026-06-07")
	require.Len(t, l, 1)
	require.Equal(t, "Ines: first aid lapsed on 2026-06-06; it must be valid on 2026-06-07.", l[0].Message)
	require.Len(t, roster.Crew(demands, p, "2023-01-01"), 2, "not issued yet")
}

// UHMS/DMSC questionnaire (2020): any "yes" that leads to a physician means no
// water session without the approval (seen).
func TestTheNewestMedicalCounts(t *testing.T) {
	flagged := paper(roster.Medical, roster.PhysicianNeeded, "2026-05-01", "")
	waiver := paper(roster.Waiver, "valid", "2026-05-01", "")
	for _, c := range []struct {
		name   string
		papers []roster.Paper
		stage  roster.Stage
		rule   finding.Rule
		forbid bool
	}{
		{"a flagged answer keeps out at once", []roster.Paper{flagged, waiver}, roster.Planning,
			roster.MedicalFlagged, true},
		{"a later approval lets in",
			[]roster.Paper{flagged, waiver, paper(roster.Medical, roster.PhysicianApproved, "2026-05-20", "")},
			roster.Opening, finding.Rule{}, false},
		{"an approval from before the flag does not",
			[]roster.Paper{flagged, waiver, paper(roster.Medical, roster.PhysicianApproved, "2026-04-20", "")},
			roster.Opening, roster.MedicalFlagged, true},
		{"a refusal keeps out", []roster.Paper{waiver,
			paper(roster.Medical, roster.PhysicianRefused, "2026-05-20",
				"")}, roster.Planning, roster.MedicalFlagged, true},
		{"none yet is noted while planning", []roster.Paper{waiver}, roster.Planning, roster.MedicalMissing,
			false},
		{"none yet keeps out at the opening", []roster.Paper{waiver}, roster.Opening, roster.MedicalMissing,
			true},
		{"one older than the centre allows counts no more",
			[]roster.Paper{waiver, paper(roster.Medical, roster.NothingFlagged, "2025-06-05", "")},
			roster.Opening, roster.MedicalMissing, true},
		{"one of the last day that counts",
			[]roster.Paper{waiver, paper(roster.Medical, roster.NothingFlagged, "2025-06-06", "")},
			roster.Opening, finding.Rule{}, false},
		{"no waiver is noted while planning",
			[]roster.Paper{paper(roster.Medical, roster.NothingFlagged, "2026-01-01", "")}, roster.Planning,
			roster.StudentPaper, false},
		{"no waiver keeps out at the opening",
			[]roster.Paper{paper(roster.Medical, roster.NothingFlagged, "2026-01-01", "")}, roster.Opening,
			roster.StudentPaper, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := roster.Water(demands, roster.Person{ID: "1", Name: "Fay", Age: 30, Papers: c.papers},
				"2026-06-06", c.stage)
			require.Equal(t, c.forbid, l.Forbids())
			if c.rule.ID == "" {
				require.Empty(t, l)
				return
			}
			require.Len(t, l.Of(c.rule), 1)
		})
	}
}

// ISO 24803:2017 cl. 4.1: documented consent of a parent or guardian (seen).
func TestMinorsNeedConsentUntilTheAgeOfMajority(t *testing.T) {
	ready := []roster.Paper{paper(roster.Waiver, "valid", "2026-01-01", ""),
		paper(roster.Medical, roster.NothingFlagged, "2026-01-01", "")}
	require.Len(t, roster.Water(demands, roster.Person{Name: "Min", Age: 17, Papers: ready}, "2026-06-06",
		roster.Planning).Of(roster.MinorConsent), 1)
	require.Empty(t, roster.Water(demands, roster.Person{Name: "Min", Age: 18, Papers: ready}, "2026-06-06",
		roster.Planning))
	ready = append(ready, paper(roster.Consent, "valid", "2026-06-01", ""))
	require.Empty(t, roster.Water(demands, roster.Person{Name: "Min", Age: 17, Papers: ready}, "2026-06-06",
		roster.Opening))
}

func TestAnUnfitMarkKeepsOut(t *testing.T) {
	require.Len(t, roster.Fit(roster.Person{Name: "Una", Unfit: true}, "2026-06-06"), 1)
	require.Empty(t, roster.Fit(roster.Person{Name: "Una"}, "2026-06-06"))
}

// One manual: assistants count only if active and insured (seen).
func TestAnAssistantCountsWhenActiveAndInsured(t *testing.T) {
	p := roster.Person{Name: "Abel",
		Papers: []roster.Paper{paper(roster.TeachingStatus, "valid", "2026-01-01", "2026-12-31")}}
	l := roster.Assistant(p, "2026-06-06")
	require.Len(t, l, 1)
	require.False(t, l.Forbids())
	p.Papers = append(p.Papers, paper(roster.Insurance, "valid", "2026-01-01", "2026-12-31"))
	require.Empty(t, roster.Assistant(p, "2026-06-06"))
}

// Québec r. 8 s. 3.1: an assistant may not be responsible for a group (seen).
func TestOnlyInstructorsAreInCharge(t *testing.T) {
	p := roster.Person{Name: "Abel"}
	require.Len(t, roster.Qualified(p, []string{"assistant"}, "in_charge"), 1)
	require.Empty(t, roster.Qualified(p, []string{"assistant"}, "assistant"))
	require.Empty(t, roster.Qualified(p, []string{"instructor"}, "assistant"))
	require.Empty(t, roster.Qualified(p, nil, "student"))
}

func TestSpansClashWhenTheyShareAnyTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(label string) time.Time {
			return time.Unix(int64(rapid.IntRange(0, 20).Draw(t, label)), 0)
		}
		a, b := roster.Span{From: at("a"), To: at("b")}, roster.Span{From: at("c"), To: at("d")}
		shared := false
		for s := int64(0); s < 20; s++ { // second by second
			x := time.Unix(s, 0)
			in := func(s roster.Span) bool { return !x.Before(s.From) && x.Before(s.To) }
			shared = shared || in(a) && in(b)
		}
		if a.From.Before(a.To) && b.From.Before(b.To) {
			require.Equal(t, shared, a.Meets(b))
			require.Equal(t, a.Meets(b), b.Meets(a))
		}
	})
}

func TestOrderOfTheCourse(t *testing.T) {
	hour := func(h int) roster.Span {
		from := time.Date(2026, 6, 6, h, 0, 0, 0, time.UTC)
		return roster.Span{From: from, To: from.Add(time.Hour)}
	}
	pool := roster.Appointment{ID: "pool", Title: "pool", Kind: "confined", Span: hour(9)}
	first := roster.Appointment{ID: "first", Title: "first", Kind: "open", Span: hour(12), Dives: []int{1, 2}}
	later := roster.Appointment{ID: "later", Title: "later", Kind: "open", Span: hour(15), Dives: []int{3}}
	require.Empty(t, roster.Order(first, []roster.Appointment{pool, later}))
	require.Len(t, roster.Order(first, []roster.Appointment{later}).Of(roster.OutOfOrder), 1)
	swapped := later
	swapped.Span = hour(11)
	require.Len(t, roster.Order(swapped, []roster.Appointment{pool, first}).Of(roster.DiveOutOfOrder), 1)
	movedPool := pool
	movedPool.Span = hour(16)
	require.NotEmpty(t, roster.Order(movedPool, []roster.Appointment{pool, first, later}).Of(roster.OutOfOrder),
		"moving the pool behind open water")
	repeat := roster.Appointment{ID: "again", Title: "again", Kind: "open", Span: hour(18), Dives: []int{1}}
	require.Empty(t, roster.Order(repeat, []roster.Appointment{pool, first, later}),
		"dive 1 again, for who missed it")
	repeat.Dives = []int{4}
	require.Empty(t, roster.Order(repeat, []roster.Appointment{pool, first, later}))
}

func TestEveryRuleSaysWhereItComesFrom(t *testing.T) {
	ids := map[string]bool{}
	for _, r := range roster.Rules() {
		require.NotEmpty(t, r.Source, r.ID)
		require.NotEmpty(t, r.Text, r.ID)
		require.False(t, ids[r.ID], "%s twice", r.ID)
		ids[r.ID] = true
	}
}

func ExampleCrew() {
	p := roster.Person{ID: "7", Name: "Lars", Papers: []roster.Paper{
		{ID: "a", Kind: roster.TeachingStatus, Outcome: "valid", IssuedOn: "2026-01-01",
			ValidUntil: "2026-12-31"},
		{ID: "b", Kind: roster.FirstAid, Outcome: "valid", IssuedOn: "2024-05-01", ValidUntil: "2026-05-01"}}}
	for _, f := range roster.Crew(demands, p, "2026-06-06") {
		fmt.Println(f.Message)
	}
	// Output: Lars: first aid lapsed on 2026-05-01; it must be valid on 2026-06-06.
}
