package briefings

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/gasplan"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// sampled are briefings of one person each, in the order of testdata/content.jsonl.
func sampled() (out []struct {
	recording
	person briefedPerson
}) {
	figure := func(v float64, u units.Unit) *units.Reading { return new(units.Read(v, u)) }
	id := func(n int) *uuid.UUID { return new(uuid.MustParse(fmt.Sprintf("00000000-0000-7000-8000-%012d", n))) }
	add := func(r recording, p briefedPerson) {
		out = append(out, struct {
			recording
			person briefedPerson
		}{r, p})
	}
	bar := signal.Convention{Code: "ours", Name: "Ours", Note: "of the shop", Unit: units.UnitBar, Hands: 1,
		Style: "digits", Ten: "fist", Region: "general",
		Signs: []signal.Sign{{Meaning: "low_on_gas", Gesture: "fist_on_chest"}}}
	psi := signal.Convention{Code: "theirs", Unit: units.UnitPSI, Hands: 2, Style: "sum"}
	usual := Instructions{"Signal low on gas.", "Signal out of gas.", "Look for one minute."}
	// Nothing but the instructions: no interval, no pressures, no dive.
	add(recording{convention: psi, content: storedContent{Instructions: usual, Roles: []Role{}}},
		briefedPerson{GaugeUnit: units.UnitBar})
	// Everything, with a plan's pressures that hands round.
	add(recording{convention: bar, checkEveryS: new(120),
		content: storedContent{Instructions: Instructions{"Signal.", "Share.", "Look, then ascend."},
			Roles:     []Role{{"lead", id(1), "Ines"}, {"oxygen", nil, "the boat's skipper"}},
			Emergency: new("Call 112."), Note: "cold"},
		named: NewDive{DiveID: id(2), Depth: &gasplan.Quantity{Value: 12, Unit: "m"},
			PlannedTime: &gasplan.Quantity{Value: 25, Unit: "min"},
			Cylinder:    &gasplan.CylinderInput{WaterVolume: &gasplan.Quantity{Value: 12, Unit: "L"}}}},
		briefedPerson{GaugeUnit: units.UnitBar, Figures: []storedFigures{{DiveID: id(2), PlanID: id(3),
			Start: figure(207, "bar"), Turn: figure(121, "bar"), Low: figure(63, "bar")}}})
	// Another gauge, and a low-gas pressure alone.
	add(recording{convention: psi, checkEveryS: new(60),
		content: storedContent{Instructions: usual, Roles: []Role{}}},
		briefedPerson{GaugeUnit: units.UnitPSI, Figures: []storedFigures{{Low: figure(880, "psi")}}})
	return out
}

// Digests of briefed content are stored: a renamed Go field, a new member or another
// order must not change them, or everybody would have to be briefed again.
// testdata/content.jsonl has the content and the digest of each sample, as they were
// first stored; add lines to it, and change none.
func TestDigestsOfBriefedContentStayAsTheyWereStored(t *testing.T) {
	t.Parallel()
	file, err := os.Open("testdata/content.jsonl")
	require.NoError(t, err)
	t.Cleanup(func() { _ = file.Close() })
	lines := bufio.NewScanner(file)
	for i, s := range sampled() {
		require.True(t, lines.Scan(), "a line for sample %d", i)
		var kept struct {
			Content json.RawMessage `json:"content"`
			Digest  string          `json:"digest"`
		}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &kept))
		got := s.contentFor(s.person)
		text, err := json.Marshal(got)
		require.NoError(t, err)
		require.Equal(t, string(kept.Content), string(text), "sample %d", i)
		require.Equal(t, kept.Digest, fmt.Sprintf("%x", got.digest()), "sample %d", i)
	}
	require.False(t, lines.Scan(), "a line without a sample")
}

// What binds nobody does not ask for another acknowledgement, and what binds does.
func TestWhatChangesTheDigestOfBriefedContent(t *testing.T) {
	t.Parallel()
	was := sampled()[1]
	before := was.contentFor(was.person).digest()
	for name, c := range map[string]struct {
		change func(r *recording, p *briefedPerson)
		same   bool
	}{
		"the note":                     {func(r *recording, _ *briefedPerson) { r.content.Note = "warm" }, true},
		"the convention's name":        {func(r *recording, _ *briefedPerson) { r.convention.Name = "other" }, true},
		"the plan":                     {func(_ *recording, p *briefedPerson) { p.Figures[0].PlanID = nil }, true},
		"the cylinder":                 {func(r *recording, _ *briefedPerson) { r.named.Cylinder = nil }, true},
		"a pressure within what shows": {func(_ *recording, p *briefedPerson) { *p.Figures[0].Low = units.Read(66, "bar") }, true},
		"a pressure beyond what shows": {func(_ *recording, p *briefedPerson) { *p.Figures[0].Low = units.Read(71, "bar") }, false},
		"the interval":                 {func(r *recording, _ *briefedPerson) { r.checkEveryS = nil }, false},
		"a role":                       {func(r *recording, _ *briefedPerson) { r.content.Roles = r.content.Roles[:1] }, false},
		"the depth":                    {func(r *recording, _ *briefedPerson) { r.named.Depth.Value = 14 }, false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := sampled()[1]
			c.change(&s.recording, &s.person)
			require.Equal(t, c.same, string(before) == string(s.contentFor(s.person).digest()))
		})
	}
}
