package httpapi_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// What no text for people has: a time in UTC, and a duration as Go writes it.
var (
	inUTC     = regexp.MustCompile(`\d\dZ\b|\bUTC\b`)
	goLasting = regexp.MustCompile(`\b\d+h\d+m|\b\d+m\d+(\.\d+)?s\b|\b\d+h0m|\b\d+(\.\d+)?(ms|µs|ns)\b`)
	// What the caller wrote, quoted back, and how a value of the contract is written.
	quotedBack = regexp.MustCompile(`'[^']*'|"[^"]*"|write it like \S+`)
	// A time of day, with or without its day, that is no instant.
	bareTime = regexp.MustCompile(`^(\d{4}-\d\d-\d\d )?\d\d:\d\d(:\d\d)?Z?$`)
)

// badText returns what is wrong with a text for people, "" where nothing is.
func badText(text string) string {
	plain := quotedBack.ReplaceAllString(text, "")
	first, _ := utf8.DecodeRuneInString(text) // a quote may quote anything
	switch {
	case inUTC.MatchString(plain):
		return "it names a time in UTC"
	case goLasting.MatchString(plain):
		return "it names a duration as Go writes it"
	case unicode.IsLower(first):
		return "it begins with no capital"
	case !strings.HasSuffix(strings.TrimRight(text, `"'”)`), ".") && !strings.HasSuffix(text, "?"):
		return "it ends with no full stop"
	}
	return ""
}

// badWords finds what is wrong with the texts for people in an answer: messages,
// details and cures, with the parts that messages keep.
func badWords(v any) (out []string) {
	switch x := v.(type) {
	case []any:
		for _, below := range x {
			out = append(out, badWords(below)...)
		}
	case map[string]any:
		_, finds := x["rule"]
		_, cures := x["code"]
		for name, below := range x {
			text, is := below.(string)
			switch {
			case is && (name == "message" && (finds || cures) || name == "detail" && cures):
				if why := badText(text); why != "" {
					out = append(out, fmt.Sprintf("%s: %q", why, text))
				}
			case name == "params" && finds:
				parts, _ := below.(map[string]any)
				for part, value := range parts {
					if said, is := value.(string); is && bareTime.MatchString(said) {
						out = append(out, fmt.Sprintf("the part %s of %v is no instant: %q", part, x["rule"],
							said))
					}
				}
			case name != "body" && name != "accept": // what a device or a person wrote
				out = append(out, badWords(below)...)
			}
		}
	}
	return out
}

// worded holds the texts of an answer, of JSON and of pages.
func worded(contentType string, body []byte) error {
	switch {
	case strings.Contains(contentType, "json"):
		var v any
		_ = json.Unmarshal(body, &v) // other tests hold that an answer is JSON
		if bad := badWords(v); len(bad) > 0 {
			return fmt.Errorf("words for people: %s", strings.Join(bad, "; "))
		}
	case strings.HasPrefix(contentType, "text/html"), strings.HasPrefix(contentType, "text/plain"):
		for _, bad := range []*regexp.Regexp{inUTC, goLasting} {
			if at := bad.FindIndex(body); at != nil {
				return fmt.Errorf("a page for people has %q", body[max(0, at[0]-40):min(len(body), at[1]+20)])
			}
		}
	}
	return nil
}

func TestBadWordsAreFound(t *testing.T) {
	for text, bad := range map[string]bool{
		"Ada went in at 18:05.":     false,
		"Ada went in at 18:05Z.":    true,
		"It is 756h55m7s ahead.":    true,
		"It is 31 days 12 h ahead.": false,
		"Wait 1m30s.":               true,
		"leave at 18:05 or later.":  true,
		"Leave at 18:05 or later":   true,
		"'noon' is no instant: write it like 2027-06-05T09:00:00Z.": false,
		"Is it so?": false,
	} {
		require.Equal(t, bad, badText(text) != "", "%s: %s", text, badText(text))
	}
	require.Error(t, worded("application/json",
		[]byte(`{"items": [{"findings": [{"rule": "a.b", "message": "So.", "params": {"at": "18:05Z"}}]}]}`)))
	require.NoError(t, worded("application/json",
		[]byte(`{"items": [{"findings": [{"rule": "a.b", "message": "So.", "params": {"at": "2027-06-05T18:05:00Z"}}]}]}`)))
	require.Error(t, worded("application/problem+json", []byte(`{"code": "a", "detail": "so"}`)))
	require.Error(t, worded("text/html; charset=utf-8", []byte(`<p>at 18:05Z</p>`)))
}
