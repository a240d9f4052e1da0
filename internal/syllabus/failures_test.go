package syllabus_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/finding"
	"tankside/internal/syllabus"
)

var pool9 = time.Date(2026, 6, 7, 9, 0, 0, 0, time.UTC)

// tries makes attempts at a skill, one a minute: "+" met, "-" not met.
func tries(skill, marks string) (out []syllabus.Attempt) {
	for i, m := range marks {
		a := syllabus.Attempt{ID: string(rune('a' + i)), Skill: skill, On: sunday,
			At: pool9.Add(time.Duration(i) * time.Minute), Setting: syllabus.Confined, Met: m == '+'}
		if m == '-' {
			a.Reason = "bolts for the surface"
		}
		out = append(out, a)
	}
	return out
}

func TestFailuresAreNotSignedAway(t *testing.T) {
	s := syllabus.BuiltIn()
	for _, x := range []struct {
		marks string
		want  []string // ids of the attempts that the signer accepts
	}{
		{"", nil}, {"+", nil}, {"-+", nil}, {"---+", nil},
		{"---", []string{"a", "b", "c"}},
		{"+-", []string{"b"}},
		{"-+--", []string{"c", "d"}},
		{"+-+", nil},
	} {
		c := sign(s, with(s, "cramp", saturday), "cramp", sunday)
		c.Standing.Attempts, c.Evidence = tries("cramp", x.marks), nil
		found := syllabus.MaySign(c).Of(syllabus.FailedSince)
		if x.want == nil {
			require.Empty(t, found, x.marks)
			continue
		}
		require.Len(t, found, 1, x.marks)
		require.Equal(t, finding.Caution, found[0].Severity)
		var shown []string
		for _, subject := range found[0].Subjects {
			if subject.Type == "attempt" {
				shown = append(shown, subject.ID)
			}
		}
		require.Equal(t, x.want, shown, x.marks)
		require.Contains(t, found[0].Message, `on 2026-06-07, "bolts for the surface"`)
		require.Len(t, found[0].Params["not_met"], len(x.want))

		c.Standing.Attempts[len(x.marks)-1].Voided = true
		require.Len(t, append(finding.List{}, syllabus.MaySign(c).Of(syllabus.FailedSince)...),
			min(1, len(x.want)-1), "what was voided is no failure")
	}
}

// In one role a skill can be met while it is not in the other.
func TestAFailureIsOvercomeInItsOwnRole(t *testing.T) {
	s := syllabus.BuiltIn()
	k := *s.Skill("gas-receiving")
	require.NotEmpty(t, k.Roles)
	st := active()
	st.Attempts = tries(k.Code, "-+")
	st.Attempts[0].Role, st.Attempts[1].Role = k.Roles[0], k.Roles[0]
	st.Attempts[1].Measured = goodFigures(k)
	require.Empty(t, st.Failures(k, time.Time{}))
	k.Roles = append(k.Roles, "donor")
	st.Attempts[1].Role = "donor"
	require.Len(t, st.Failures(k, time.Time{}), 1)
}

// A sign-off from the water is recorded, and flagged for whoever completes; so is
// one whose signer did not know of a failure from before it.
func TestFailuresThatWereNotAcceptedAreFlagged(t *testing.T) {
	s := syllabus.BuiltIn()
	c := sign(s, with(s, "cramp", saturday), "cramp", sunday)
	c.Standing.Attempts, c.Evidence, c.OneOfSeveral = tries("cramp", "+--"), nil, true
	require.Empty(t, syllabus.MaySign(c).Of(syllabus.FailedSince))
	o := syllabus.SignOff{ID: "o", Skill: "cramp", On: sunday, Signed: pool9.Add(90 * time.Second)}
	flags := func() []string {
		st := c.Standing
		st.SignOffs = append(slices.Clone(st.SignOffs), o)
		var out []string
		for _, f := range syllabus.Flags(s, st).Of(syllabus.FailedSince) {
			require.Equal(t, finding.Caution, f.Severity)
			for _, x := range f.Subjects {
				out = append(out, x.ID)
			}
		}
		return out
	}
	require.Equal(t, []string{"o", "cramp", "b"}, flags(),
		"what happened after it was signed is another matter")
	o.Accepted = []string{"b"}
	require.Empty(t, flags())
	o.Accepted, o.Signed = nil, pool9.Add(time.Hour)
	require.Equal(t, []string{"o", "cramp", "b", "c"}, flags())
	c.Standing.Attempts = tries("cramp", "+--+")
	require.Empty(t, flags(), "shown again")
}

// One more failure never takes a caution away, and a met attempt at the end always
// does.
func TestOneMoreFailureIsOneMoreToAccept(t *testing.T) {
	k := *syllabus.BuiltIn().Skill("cramp")
	rapid.Check(t, func(t *rapid.T) {
		marks := rapid.StringOfN(rapid.SampledFrom([]rune("+-")), 0, 8, -1).Draw(t, "attempts")
		of := func(marks string) int {
			st := active()
			st.Attempts = tries(k.Code, marks)
			return len(st.Failures(k, time.Time{}))
		}
		if of(marks+"-") != of(marks)+1 || of(marks+"+") != 0 {
			t.Fatalf("%q has %d failures, one more %d, met %d", marks, of(marks), of(marks+"-"), of(marks+"+"))
		}
	})
}
