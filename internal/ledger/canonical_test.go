package ledger_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tankside/internal/ledger"
)

// The samples of RFC 8785: sections 3.2.2 (input) and 3.2.3 and 3.2.4 (output),
// the sorting example of section 3.2.3, and what section 3.1 refuses.
func TestCanonicalFormIsThatOfRFC8785(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, in, want string }{
		{"section 3.2.2, numbers, strings and literals",
			`{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],` +
				`"string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}`,
			`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],` +
				`"string":"€$\u000f\nA'B\"\\\\\"/"}`},
		{"section 3.2.3, members sorted by UTF-16 code units",
			`{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One",` +
				`"\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`,
			"{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\"," +
				"\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := ledger.Canonical(json.RawMessage(c.in))
			require.NoError(t, err)
			require.Equal(t, c.want, string(got))
		})
	}
}

// RFC 8785, appendix B: IEEE 754 bits and the text that they must give.
func TestNumbersAreThoseOfRFC8785(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		bits uint64
		want string
	}{
		{0x0000000000000000, "0"},
		{0x8000000000000000, "0"},
		{0x0000000000000001, "5e-324"},
		{0x8000000000000001, "-5e-324"},
		{0x7fefffffffffffff, "1.7976931348623157e+308"},
		{0xffefffffffffffff, "-1.7976931348623157e+308"},
		{0x4340000000000000, "9007199254740992"},
		{0xc340000000000000, "-9007199254740992"},
		{0x4430000000000000, "295147905179352830000"},
		{0x44b52d02c7e14af5, "9.999999999999997e+22"},
		{0x44b52d02c7e14af6, "1e+23"},
		{0x44b52d02c7e14af7, "1.0000000000000001e+23"},
		{0x444b1ae4d6e2ef4e, "999999999999999700000"},
		{0x444b1ae4d6e2ef4f, "999999999999999900000"},
		{0x444b1ae4d6e2ef50, "1e+21"},
		{0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
		{0x3eb0c6f7a0b5ed8d, "0.000001"},
		{0x41b3de4355555553, "333333333.3333332"},
		{0x41b3de4355555554, "333333333.33333325"},
		{0x41b3de4355555555, "333333333.3333333"},
		{0x41b3de4355555556, "333333333.3333334"},
		{0x41b3de4355555557, "333333333.33333343"},
		{0xbecbf647612f3696, "-0.0000033333333333333333"},
		{0x43143ff3c1cb0959, "1424953923781206.2"},
	} {
		got, err := ledger.Canonical(math.Float64frombits(c.bits))
		require.NoError(t, err)
		require.Equal(t, c.want, string(got), "%016x", c.bits)
	}
}

func TestCanonicalRefusesWhatItWouldFalsify(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   any
		want string
	}{
		{"a whole number beyond 2^53", map[string]int64{"n": 1<<53 + 1}, "loses digits"},
		{"one beyond 64 bits", json.RawMessage(`[123456789012345678901234567890]`), "loses digits"},
		{"not a number", math.NaN(), "NaN"},
		{"the same name twice (RFC 8785, section 3.1)", json.RawMessage(`{"a":1,"a":2}`), "uplicate"},
		{"half of a surrogate pair (RFC 8785, section 3.2.2.2)", json.RawMessage(`["\udead"]`), "urrogate"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := ledger.Canonical(c.in)
			require.ErrorContains(t, err, c.want)
		})
	}
}

// Whatever order and spelling a document arrives in, the canonical form is one,
// means the same, and is its own canonical form.
func TestCanonicalFormIsOne(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		doc := rapid.MapOf(rapid.String(), rapid.SliceOf(rapid.Float64())).Draw(t, "doc")
		a, err := ledger.Canonical(doc)
		require.NoError(t, err)
		indented, err := json.MarshalIndent(doc, " ", "\t")
		require.NoError(t, err)
		b, err := ledger.Canonical(json.RawMessage(indented))
		require.NoError(t, err)
		require.Equal(t, string(a), string(b))
		var back map[string][]float64
		require.NoError(t, json.Unmarshal(a, &back))
		again, err := ledger.Canonical(back)
		require.NoError(t, err)
		require.Equal(t, string(a), string(again))
	})
}

// SHA-256 of "abc": FIPS 180-4, published example values (NIST).
func TestHashIsSHA256InHexadecimalDigits(t *testing.T) {
	t.Parallel()
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	h := hashText("abc")
	require.Equal(t, abc, h.String())
	var back ledger.Hash
	require.NoError(t, back.UnmarshalText([]byte(abc)))
	require.Equal(t, h, back)
	require.ErrorContains(t, back.UnmarshalText([]byte("ba")), "64")
	require.Error(t, back.UnmarshalText([]byte(strings.Repeat("g", 64))))
}
