package contract

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"tankside/internal/finding"
)

// maxDepth is how deep a body may nest, our choice: no schema needs more than
// ten levels, and without a limit a small body costs much work.
const maxDepth = 32

// wellFormed finds what no schema can, and what has to be known before one is
// asked: broken JSON, a member given twice, text that no database column can
// hold (U+0000, invalid UTF-8), a number that nothing could be measured with,
// more items than a list may have, more values than a body may have. It stops
// as soon as there is more than is told. of may be nil.
func wellFormed(body []byte, of *shape) finding.List {
	w := walker{decoder: json.NewDecoder(bytes.NewReader(body))}
	w.decoder.UseNumber()
	if !utf8.Valid(body) {
		w.note(badText, "The body is not valid UTF-8.")
	} else if at, size := overlong(body, longestQuoted); size > 0 {
		w.note(InvalidValue, "The text that begins at byte {at} has {bytes} bytes. The longest text that is "+
			"taken anywhere has fewer than {limit}.", at, size, longestQuoted)
	} else if err := w.document(of); err != nil && !errors.Is(err, errEnough) {
		w.note(badJSON, "The body is not JSON: {because}, at byte {at}.", cause(err), w.decoder.InputOffset())
	}
	return w.found
}

// mediaOf returns the media type of a Content-Type.
func mediaOf(contentType string) string {
	media, _, _ := strings.Cut(contentType, ";")
	return strings.ToLower(strings.TrimSpace(media))
}

func IsJSON(contentType string) bool {
	media := mediaOf(contentType)
	return media == "application/json" || strings.HasSuffix(media, "+json")
}

func Storable(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

// walker goes through a body token by token.
type walker struct {
	decoder *json.Decoder
	path    []string
	values  int
	found   finding.List
	stray   finding.List // what stands where nothing such is taken; reported where there is too much of it
	within  int          // in how much of that the walk is now
	strays  int          // values in it

	counting bool // counts the values, and notes nothing but that there are too many
}

// errEnough ends the walk: enough was found.
var errEnough = errors.New("httpapi: enough was found")

func (w *walker) note(r finding.Rule, template string, parts ...any) {
	w.add(r.Say(template, parts...))
}

// add notes a finding about the place where the walk is now.
func (w *walker) add(f finding.Finding) {
	if w.counting {
		return
	}
	f.In, f.Pointer = "body", pointer(w.path)
	w.found = append(w.found, f)
}

// alone notes what makes everything else not worth looking at.
func (w *walker) alone(f finding.Finding) error {
	w.found, w.counting = nil, false
	w.add(f)
	return errEnough
}

func (w *walker) document(of *shape) error {
	if err := w.value(of); err != nil {
		return err
	}
	if _, err := w.decoder.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows the value")
	}
	return nil
}

func (w *walker) value(of *shape) error {
	if len(w.path) > maxDepth {
		return fmt.Errorf("it nests deeper than %d levels", maxDepth)
	}
	token, err := w.decoder.Token()
	if err != nil {
		return err
	}
	if w.values++; w.values > mostValues {
		w.path = nil
		return w.alone(InvalidValue.Say("There are more than {most} values in the body. Send less at once.",
			mostValues))
	}
	if w.within > 0 {
		w.strays++
	}
	if (len(w.stray) > MostBreaches || w.strays > mostStrays) && !w.counting {
		w.found = append(w.found, w.stray...)
		return errEnough
	}
	switch t := token.(type) {
	case string:
		w.text(t)
		if err := w.length(t, of.as("string"), of != nil); err != nil {
			return err
		}
	case json.Number:
		w.number(string(t))
	case json.Delim:
		if t == '{' {
			return w.inside(of, "object", w.object)
		}
		return w.inside(of, "array", w.array)
	}
	if len(w.found) > MostBreaches {
		return errEnough
	}
	return nil
}

func (w *walker) text(s string) {
	if !Storable(s) {
		w.note(badText, "A text holds U+0000, which cannot be stored.")
		return
	}
	if wrong := wordedBadly(w.path, s); wrong.Found() {
		w.add(misleading(wrong))
	}
}

// length notes a text that is far too long to be held against a pattern, or that
// stands where no text is taken, and ends the walk there.
func (w *walker) length(s string, of *shape, takesOther bool) error {
	var f finding.Finding
	switch {
	case len(s) <= longestText:
	case of == nil && takesOther:
		f = breached("got string, want something else")
	case of == nil:
	case of.most == nil && (of.format != "" || of.pattern != nil || len(of.values) > 0):
		f = wrongLength.Say("The text is too long: it has {bytes} bytes, and what is asked for here is short.",
			len(s))
	case of.most != nil && int64(utf8.RuneCountInString(s)) > *of.most:
		f = breached(fmt.Sprintf("maxLength: got %d, want %d", utf8.RuneCountInString(s), *of.most))
	}
	switch {
	case f.Rule == "":
		return nil
	case w.counting:
		return w.alone(f)
	}
	w.add(f)
	return errEnough
}

// overlong returns where the first quoted text of more than most bytes begins, and
// how many it has; 0 and 0 where none is so long. It decodes nothing.
func overlong(body []byte, most int) (at, size int) {
	for i := bytes.IndexByte(body, '"'); i >= 0 && i < len(body); {
		begin := i + 1
		end := begin
		for end < len(body) && body[end] != '"' {
			if body[end] == '\\' {
				end++
			}
			end++
		}
		end = min(end, len(body))
		if end-begin > most {
			return begin, end - begin
		}
		next := bytes.IndexByte(body[min(end+1, len(body)):], '"')
		if next < 0 {
			break
		}
		i = end + 1 + next
	}
	return 0, 0
}

// number takes what a measured value could be: some digits, and in the range of
// a double.
func (w *walker) number(s string) {
	switch said := numberOutOfRange(s); {
	case said == tooLarge:
		w.note(InvalidValue, tooLarge)
	case said == tooSmall:
		w.note(InvalidValue, tooSmall)
	case len(s) > longestNumber:
		w.note(InvalidValue, "The number has {characters} characters, and at most {limit} are taken.", len(s),
			longestNumber)
	}
}

func (w *walker) object(of *shape) error {
	seen := map[string]bool{}
	for w.decoder.More() {
		token, err := w.decoder.Token()
		if err != nil {
			return err
		}
		name := token.(string) // the decoder takes nothing else for a name
		if len(name) > longestText {
			return w.alone(wrongLength.Say("The name of a member has {bytes} bytes. No member has so long a name.", len(name)))
		}
		w.path = append(w.path, name)
		if seen[name] {
			w.note(memberTwice, `The member "{member}" is given twice.`, Clip(name, LongestPointer))
		}
		seen[name] = true
		w.text(name)
		if err := w.member(of, name); err != nil {
			return err
		}
		w.path = w.path[:len(w.path)-1]
		if len(w.found) > MostBreaches {
			return errEnough
		}
		if of != nil && of.most != nil && int64(len(seen)) > *of.most {
			return w.alone(breached(fmt.Sprintf("maxProperties: got more than %d, want %d", *of.most,
				*of.most)))
		}
	}
	_, err := w.decoder.Token()
	return err
}

// inside goes through an object or a list, which may stand where none is taken.
func (w *walker) inside(of *shape, kind string, through func(*shape) error) error {
	fits := of.as(kind)
	if of == nil || fits != nil {
		return through(fits)
	}
	return w.astray("got "+kind+", want "+cmp.Or(strings.Join(of.types, " or "), "something else"),
		func() error { return through(nil) })
}

// member goes through the value of a member, which a closed object may not have.
func (w *walker) member(of *shape, name string) error {
	if of == nil || !of.closed || of.member(name) != nil {
		return w.value(of.member(name))
	}
	said := "additional property '" + Clip(name, LongestPointer) + "' not allowed"
	return w.astray(said, func() error { return w.value(nil) })
}

// astray goes through what stands where nothing such is taken. Little of it is left
// to be reported beside everything else that is wrong.
func (w *walker) astray(said string, through func() error) error {
	if !w.counting {
		f := breached(said)
		f.In, f.Pointer = "body", pointer(w.path)
		w.stray = append(w.stray, f)
	}
	w.within++
	err := through()
	w.within--
	return err
}

func (w *walker) array(of *shape) error {
	var item *shape
	if of != nil {
		item = of.items
	}
	for i := 0; w.decoder.More(); i++ {
		if of != nil && of.most != nil && int64(i) >= *of.most {
			return w.alone(breached(fmt.Sprintf("maxItems: got more than %d, want %d", *of.most, *of.most)))
		}
		w.path = append(w.path, strconv.Itoa(i))
		if err := w.value(item); err != nil {
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

// Canonical returns the same bytes for the same JSON value, whatever its spacing
// and the order of its members; what is no JSON stays as it is.
func Canonical(body []byte) []byte {
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
