package wording_test

import (
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"

	"tankside/internal/wording"
)

// The characters of line breaking (Unicode Standard Annex 14) and of explicit
// direction (Unicode Standard Annex 9, table 1), and of category Cc.
func TestALineHasNoCharactersThatForgeOrTurnIt(t *testing.T) {
	bad := []rune{0x061c, 0x200e, 0x200f, 0x2028, 0x2029, 0x202a, 0x202b, 0x202c, 0x202d, 0x202e, 0x2066,
		0x2067, 0x2068, 0x2069}
	for r := range rune(0xa0) {
		if unicode.IsControl(r) {
			bad = append(bad, r)
		}
	}
	require.Len(t, bad, 14+65)
	for _, r := range bad {
		require.NotEmpty(t, wording.OneLine("Ana"+string(r)+"Lima"), "U+%04X", r)
		if r == '\n' || r == '\t' {
			require.Empty(t, wording.Lines("Ana"+string(r)+"Lima"))
		} else {
			require.NotEmpty(t, wording.Lines("Ana"+string(r)+"Lima"), "U+%04X", r)
		}
	}
	require.Contains(t, wording.OneLine("Ana\u2028Low on gas at 20 bar"), "U+2028")
	require.NotContains(t, wording.Lines("Ana\nLima\x00"), "U+000A")
}

func TestATextCanBeSeen(t *testing.T) {
	for _, nothing := range []string{" ", "\u00a0", "\u00ad", "\u034f", "\u115f", "\u200b", "\u200b\u200d ",
		"\u2060", "\u2800", "\u3000", "\u3164", "\ufe0f", "\ufeff", "\uffa0", "\U000e0041"} {
		require.NotEmpty(t, wording.OneLine(nothing), "%q", nothing)
		require.NotEmpty(t, wording.Lines("\n"+nothing), "%q", nothing)
		require.Empty(t, wording.OneLine("A"+nothing+"b"), "%q within a name", nothing)
	}
	require.Empty(t, wording.OneLine(""), "whether there is a text at all is for others to ask")
}

// Names as people have them: in many scripts, with joiners and marks.
func TestNamesAreTakenAsPeopleHaveThem(t *testing.T) {
	for _, name := range []string{"Zoë Çelik", "O'Neill-Sánchez", "Ngũgĩ", "王小明", "עדי לוי", "محمد علی",
		"می\u200cخواهم", "क्\u200dष", "👩\u200d🚒", "Ana (II)", "Łukasz, jr."} {
		require.Empty(t, wording.OneLine(name), name)
		require.Empty(t, wording.Lines(name), name)
	}
}

func TestOnlyWhatIsWrittenFromRightToLeftIsKeptApart(t *testing.T) {
	require.Equal(t, "Ana Lima: 50 bar", wording.Shown("Ana Lima: 50 bar"))
	require.Equal(t, "\u2068עדי לוי\u2069 50 bar", wording.Shown("עדי לוי 50 bar"))
	require.Equal(t, "Ana Lima Low on gas at 20", wording.Shown("Ana\u202e Lima\u2028Low on gas at 20"),
		"of an earlier release, which took it")
}
