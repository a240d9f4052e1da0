package httpapi

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"tankside/internal/finding"
)

// maxDepth is how deep a body may nest, our choice: no schema needs more than
// ten levels, and without a limit a small body costs much work.
const maxDepth = 32

// wellFormed finds what no schema can: broken JSON, a member given twice, text
// that no database column can hold (U+0000, invalid UTF-8).
func wellFormed(body []byte, r *http.Request) finding.List {
	var found finding.List
	for name, values := range r.URL.Query() {
		for _, v := range append(values, name) {
			if !storable(v) {
				f := badText.Of("A parameter holds a character that cannot be stored (U+0000 or invalid UTF-8).")
				f.In = "query"
				found = append(found, f)
			}
		}
	}
	if len(body) == 0 || !isJSON(r.Header.Get("Content-Type")) {
		return found
	}
	return append(found, wellFormedBody(body)...)
}

// wellFormedBody is wellFormed for a body of JSON alone.
func wellFormedBody(body []byte) finding.List {
	w := walker{decoder: json.NewDecoder(bytes.NewReader(body))}
	w.decoder.UseNumber()
	if !utf8.Valid(body) {
		w.note(badText, "The body is not valid UTF-8.")
	} else if err := w.document(); err != nil {
		w.note(badJSON, fmt.Sprintf("The body is not JSON: %s, at byte %d.", cause(err), w.decoder.InputOffset()))
	}
	return w.found
}

func isJSON(contentType string) bool {
	media, _, _ := strings.Cut(contentType, ";")
	media = strings.TrimSpace(media)
	return media == "application/json" || strings.HasSuffix(media, "+json")
}

func storable(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

// walker goes through a body token by token.
type walker struct {
	decoder *json.Decoder
	path    []string
	found   finding.List
}

func (w *walker) note(r finding.Rule, message string) {
	f := r.Of(message)
	f.In, f.Pointer = "body", pointer(w.path)
	w.found = append(w.found, f)
}

func (w *walker) document() error {
	if err := w.value(); err != nil {
		return err
	}
	if _, err := w.decoder.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows the value")
	}
	return nil
}

func (w *walker) value() error {
	if len(w.path) > maxDepth {
		return fmt.Errorf("it nests deeper than %d levels", maxDepth)
	}
	token, err := w.decoder.Token()
	switch t := token.(type) {
	case string:
		w.text(t)
	case json.Number:
		if said := numberOutOfRange(t.String()); said != "" {
			w.note(invalidValue, said)
		}
	case json.Delim:
		if t == '{' {
			return w.object()
		}
		return w.array()
	}
	return err
}

func (w *walker) text(s string) {
	if !storable(s) {
		w.note(badText, "A text holds U+0000, which cannot be stored.")
		return
	}
	if wrong := wordedBadly(w.path, s); wrong != "" {
		w.note(badWording, wrong)
	}
}

func (w *walker) object() error {
	seen := map[string]bool{}
	for w.decoder.More() {
		token, err := w.decoder.Token()
		if err != nil {
			return err
		}
		name := token.(string) // the decoder takes nothing else for a name
		w.path = append(w.path, name)
		if seen[name] {
			w.note(memberTwice, fmt.Sprintf("The member %q is given twice.", name))
		}
		seen[name] = true
		w.text(name)
		if err := w.value(); err != nil {
			return err
		}
		w.path = w.path[:len(w.path)-1]
	}
	_, err := w.decoder.Token()
	return err
}

func (w *walker) array() error {
	for i := 0; w.decoder.More(); i++ {
		w.path = append(w.path, strconv.Itoa(i))
		if err := w.value(); err != nil {
			return err
		}
		w.path = w.path[:len(w.path)-1]
	}
	_, err := w.decoder.Token()
	return err
}

func cause(err error) string {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return "it ends in the middle"
	}
	return err.Error()
}

// pointer writes a path as RFC 6901 wants it.
func pointer(path []string) string {
	var b strings.Builder
	for _, p := range path {
		b.WriteString("/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(p))
	}
	return b.String()
}

// canonical gives the same bytes for the same JSON value, whatever its spacing
// and the order of its members; what is no JSON stays as it is.
func canonical(body []byte) []byte {
	var v any
	if json.Unmarshal(body, &v) != nil {
		return body
	}
	out, err := json.Marshal(v)
	if err != nil {
		return body
	}
	return out
}
