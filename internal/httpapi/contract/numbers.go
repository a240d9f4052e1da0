package contract

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
)

// largestExact is the largest whole number up to which a double has them all
// (IEEE 754: 53 bits; RFC 8259, section 6, says the same of JSON).
const largestExact = 1 << 53

// DecodeBody reads a JSON body that was checked against the contract into a type
// of it. A whole number may be written with a fraction or an exponent, like 9.0
// or 1e1: JSON Schema (2020-12, Core 4.2.3) counts it as an integer, and so does
// the check; Go's decoder does not.
func DecodeBody(body []byte, into any) error {
	return json.Unmarshal(wholeNumbers(body), into)
}

// wholeNumbers returns well-formed JSON with each whole number that is written
// with a fraction or an exponent as its digits alone.
func wholeNumbers(body []byte) []byte {
	out := make([]byte, 0, len(body))
	for i := 0; i < len(body); {
		end := i + 1
		switch c := body[i]; {
		case c == '"':
			end = endOfText(body, i)
			out = append(out, body[i:end]...)
		case c == '-' || '0' <= c && c <= '9':
			for end < len(body) && strings.IndexByte("+-.eE0123456789", body[end]) >= 0 {
				end++
			}
			out = append(out, whole(string(body[i:end]))...)
		default:
			out = append(out, c)
		}
		i = end
	}
	return out
}

// endOfText returns where the text that begins at a quotation mark is over.
func endOfText(body []byte, from int) int {
	for i := from + 1; i < len(body); i++ {
		switch body[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return len(body)
}

// whole returns a number as it was written, or as its digits where it is whole.
func whole(number string) string {
	if !strings.ContainsAny(number, ".eE") {
		return number
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || x != math.Trunc(x) || math.Abs(x) > largestExact {
		return number
	}
	return strconv.FormatInt(int64(x), 10)
}

// What is wrong with a number that no double holds.
const (
	tooLarge = "The number is too large for anything that is measured here."
	tooSmall = "The number is too small to be told from 0."
)

// numberOutOfRange returns what is wrong with a number that no double holds; "" for
// one that is in range.
func numberOutOfRange(number string) string {
	x, err := strconv.ParseFloat(number, 64)
	mantissa, _, _ := strings.Cut(strings.ToLower(number), "e")
	switch {
	case err != nil:
		return tooLarge
	case x == 0 && strings.ContainsAny(mantissa, "123456789"):
		return tooSmall
	}
	return ""
}
