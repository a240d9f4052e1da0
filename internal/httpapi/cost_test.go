package httpapi_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi/datamodel/high/base"
	"github.com/stretchr/testify/require"

	"tankside/internal/httpapi/contract"
)

// What a request may cost, our choice: so much memory in all, and so large an
// answer to what breaks the contract.
const (
	mostMemory = 64 << 20
	mostAnswer = 256 << 10
	fullBody   = 1 << 20 // the limit of a body where none is said
)

// filledUp repeats a piece until a body is as large as it may be.
func filledUp(begin, piece, end string) string {
	n := (fullBody - len(begin) - len(end)) / (len(piece) + 1)
	return begin + strings.Repeat(piece+",", n-1) + piece + end
}

// numbered is filledUp with pieces that have their number in them.
func numbered(begin, piece, end string) string {
	var b strings.Builder
	b.WriteString(begin)
	for i := 0; b.Len() < fullBody-len(end)-len(piece)-12; i++ {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, piece, i)
	}
	b.WriteString(end)
	return b.String()
}

// greatest are bodies of the full limit that are made of the smallest items: at
// the top, and in each member of an operation's body that is a list or an object.
func (op *operation) greatest(t testing.TB) map[string]string {
	out := map[string]string{
		"nothings":           filledUp("[", "{}", "]"),
		"unknown members":    numbered("{", `"%d":0`, "}"),
		"one member again":   filledUp("{", `"a":0`, "}"),
		"texts of U+0000":    filledUp("[", `"\u0000"`, "]"),
		"lists within lists": strings.Repeat("[", fullBody),
		"one long text":      `"` + strings.Repeat("a", fullBody-2) + `"`,
		"one long name":      `{"` + strings.Repeat("a", fullBody-8) + `":0}`,
		"endless numbers":    filledUp("[", "1e999999", "]"),
		"what is no UTF-8":   strings.Repeat("\xff", fullBody),
		"what is no JSON":    strings.Repeat("x", fullBody),
	}
	if !op.takesJSON() {
		out["lines"], out["fields"] = strings.Repeat("\n", fullBody), strings.Repeat(",", fullBody)
		out["people without anything"] = "name,birth_on\n" + strings.Repeat(",\n", 3900)
		out["people full of faults"] = "name,birth_on,gauge_unit,email\n" +
			strings.Repeat(",x,x"+strings.Repeat("y", 200)+","+strings.Repeat("z", 300)+"\n", 1000)
		return out
	}
	schema := op.RequestBody.Content.First().Value().Schema.Schema()
	if schema.Properties == nil {
		return out
	}
	example, _ := op.example(t).(body)
	for name, member := range schema.Properties.FromOldest() {
		begin := "{"
		for other, v := range example {
			if other != name {
				text, err := json.Marshal(v)
				require.NoError(t, err)
				begin += strconv.Quote(other) + ":" + string(text) + ","
			}
		}
		begin += strconv.Quote(name) + ":"
		s := member.Schema()
		switch {
		case slices.Contains(s.Type, "array"):
			out["nothings in "+name] = filledUp(begin+"[", "{}", "]}")
			out["full of unknown members in "+name] = filledLists(begin, s)
		case slices.Contains(s.Type, "object"):
			out["unknown members in "+name] = numbered(begin+"{", `"%d":0`, "}}")
		case slices.Contains(s.Type, "string"):
			out["a long text in "+name] = begin + `"` + strings.Repeat("a", fullBody-len(begin)-3) + `"}`
		}
	}
	return out
}

// filledLists writes a list of as many items as it may have, all of the same
// size, each full of members that nobody knows.
func filledLists(begin string, s *base.Schema) string {
	most := 100
	if s.MaxItems != nil {
		most = int(*s.MaxItems)
	}
	size := (fullBody - len(begin) - 4) / most
	var item strings.Builder
	for i := 0; item.Len() < size-16; i++ {
		fmt.Fprintf(&item, `,"%d":0`, i)
	}
	return begin + "[" + strings.Repeat("{"+item.String()[1:]+"},", most-1) + "{}]}"
}

// spent sends a request and returns how much memory it took in all, and how
// large the answer was.
func spent(t testing.TB, h http.Handler, r *http.Request) (memory uint64, a *httptest.ResponseRecorder) {
	var before, after runtime.MemStats
	a = httptest.NewRecorder()
	runtime.ReadMemStats(&before)
	h.ServeHTTP(a, r)
	runtime.ReadMemStats(&after)
	require.Less(t, a.Code, http.StatusInternalServerError, "%s %s: %s", r.Method, r.URL.Path, a.Body.String())
	return after.TotalAlloc - before.TotalAlloc, a
}

func (op *operation) request(t testing.TB, c *client, address, content string) *http.Request {
	r := httptest.NewRequestWithContext(t.Context(), op.method, address, strings.NewReader(content))
	r.Header.Set("Authorization", "Bearer "+c.secret)
	r.Header.Set("If-Match", `"1"`)
	if op.media() != "" {
		r.Header.Set("Content-Type", op.media())
	}
	return r
}

// costed picks the operations whose cost is looked at: all that take a body. Beside
// the race detector that takes many minutes and memory is another, so that a few
// are tried there, and .ci/run tries all of them without it.
func costed(op *operation) bool {
	few := []string{"sendBatch", "calculateGasPlan", "importPeople", "createPerson"}
	return takesABody(op) && (!raced || slices.Contains(few, op.OperationId))
}

// However much there is of a request, little of it is looked at and told.
func TestNoRequestCostsMuch(t *testing.T) {
	s := open(t)
	every(t, costed, func(t *testing.T, op *operation) {
		for what, content := range op.greatest(t) {
			memory, a := spent(t, s.handler, op.request(t, s.boss, op.address(nil), content))
			if !raced {
				require.Less(t, memory, uint64(mostMemory), what)
			}
			require.Less(t, a.Body.Len(), mostAnswer, what)
			if a.Code == http.StatusBadRequest && op.takesJSON() { // a list of people has rules of its own
				p := answer{t: t, asked: what, status: a.Code, text: a.Body.Bytes()}
				require.LessOrEqual(t, len(p.list("findings")), contract.MostBreaches+1, what)
			}
		}
	})
}

// queries are as long as a server reads them.
var queries = map[string]string{
	"parameters that nobody knows": strings.TrimSuffix(strings.Repeat("0&", 10_000), "&"),
	"more than are parsed":         strings.TrimSuffix(strings.Repeat("0&", 10_001), "&") + "&dry_run=true",
	"different ones":               manyParameters(9_000),
	"a long name":                  strings.Repeat("a", fullBody/2) + "=1",
	"a long value":                 "limit=" + strings.Repeat("9", fullBody/2),
	"a semicolon":                  "dry_run=true;limit=3",
	"a bad escape":                 "dry_run=true&limit=%zz",
	"one of them twice":            "dry_run=false&dry_run=true",
}

func manyParameters(n int) string {
	q := url.Values{}
	for i := range n {
		q.Set(strconv.Itoa(i), "")
	}
	return q.Encode()
}

// A query that cannot be read whole, or that has too much in it, is refused
// before anybody is recognised and before anything is done: dry_run above all
// must not be lost.
func TestAQueryIsReadWholeOrRefused(t *testing.T) {
	s := open(t)
	before := s.everyRow()
	every(t, all, func(t *testing.T, op *operation) {
		content := ""
		if op.RequestBody != nil {
			text, err := json.Marshal(op.example(t))
			require.NoError(t, err)
			content = string(text)
		}
		for what, query := range queries {
			r := op.request(t, s.boss, op.address(nil), content)
			r.URL.RawQuery = query
			memory, a := spent(t, s.handler, r)
			require.Equal(t, http.StatusBadRequest, a.Code, "%s: %s", what, a.Body.String())
			require.Less(t, memory, uint64(mostMemory), what)
			require.Less(t, a.Body.Len(), 16<<10, what)
		}
	})
	require.Equal(t, before, s.everyRow())
}

// What is told is the first of it, and that there is more.
func TestTooMuchThatIsWrongIsToldInPart(t *testing.T) {
	s := open(t)
	entry := body{"id": newID(), "participant_id": newID(), "witnessed_at": at(saturday),
		"reading": of(200, "bar")}
	bad := func(n int) body {
		return body{"items": slices.Repeat([]body{{"id": "x", "participant_id": newID(),
			"witnessed_at": at(saturday), "reading": of(200, "bar")}}, n)}
	}
	checks := "/v1/sessions/" + newID() + "/gas-checks"
	found := s.instructor.post(checks, bad(20)).refused(http.StatusBadRequest,
		"invalid_request").list("findings")
	require.Len(t, found, 20)
	found = s.instructor.post(checks, bad(21)).refused(http.StatusBadRequest,
		"invalid_request").list("findings")
	require.Len(t, found, 21)
	require.Equal(t, "'x' is no id: an id is a UUID, like 0198f3c0-0000-7000-8000-000000000001.",
		found[19]["message"])
	require.Equal(t, "contract.more", found[20]["rule"])
	// How many there are counts before what they say.
	many := bad(101)
	found = s.instructor.post(checks, many).refused(http.StatusBadRequest, "invalid_request").list("findings")
	require.Len(t, found, 1)
	require.Equal(t, []any{"/items", "The list is too long: it has more than 100, and at most 100 are taken."},
		[]any{found[0]["pointer"], found[0]["message"]})
	for number, ok := range map[string]bool{"1e999999": false, "1e-999999": false, "0e99": true, "1" +
		strings.Repeat("0", 50): false, "20.5": true} {
		text, err := json.Marshal(entry)
		require.NoError(t, err)
		a := s.instructor.post(checks, `{"items":[`+
			strings.Replace(string(text), `"value":200`, `"value":`+number, 1)+`]}`)
		require.Equal(t, ok, a.status != http.StatusBadRequest, "%s: %s", number, a.text)
	}
}

// What stands where nothing such is taken is not read to its end, and a text that
// is longer than any is not decoded.
func TestStrayValuesEndTheReading(t *testing.T) {
	s := open(t)
	many := slices.Repeat([]body{{"a": 1}}, 600)
	for what, want := range map[string]struct {
		sent    any
		pointer string
		message string
	}{
		"in a member that nobody knows": {body{"name": "Ama", "weights": many}, "/weights",
			"There is no member 'weights' here. Leave it out, or correct its name."},
		"where a text is taken": {body{"name": many}, "/name", "It is a list, and has to be a text."},
		"one long text": {body{"name": strings.Repeat("a", 200<<10)}, "<nil>",
			"The text that begins at byte 9 has 204800 bytes. The longest text that is taken anywhere has fewer than 131072."},
	} {
		found := s.boss.post("/v1/people", want.sent).refused(http.StatusBadRequest,
			"invalid_request").list("findings")
		require.Len(t, found, 1, what)
		require.Equal(t, want.message, found[0]["message"], what)
		require.Equal(t, want.pointer, fmt.Sprint(found[0]["pointer"]), what)
	}
}

// The measure finds nothing where the validator finds nothing, and something
// where it finds something: each member of each example is spoiled in turn.
func TestBodiesAreMeasuredAsTheyAreValidated(t *testing.T) {
	spoils := []any{nil, true, -1, 1.23456, 1e9, "", "x", "2026-06-06T09:00:00Z", newID(),
		strings.Repeat("x", 3000), []any{}, []any{1, 1}, body{}}
	read, err := contract.Read()
	require.NoError(t, err)
	require.Empty(t, read.Built().Ignored,
		"what is not measured could cost anything: add the keyword to shape.go and content.go")
	every(t, (*operation).takesJSON, func(t *testing.T, op *operation) {
		example, ok := op.example(t).(body)
		require.True(t, ok)
		compare := func(where string) {
			text, err := json.Marshal(example)
			require.NoError(t, err)
			measure, validator, err := read.Compare(op.OperationId, text)
			require.NoError(t, err)
			require.Equal(t, validator > 0, measure > 0, "%s: %d and %d in %s", where, measure, validator, text)
		}
		compare("as it is")
		var spoil func(holder any, path string)
		spoil = func(holder any, path string) {
			each := func(key any, v any, put func(any)) {
				for _, bad := range spoils {
					put(bad)
					compare(fmt.Sprintf("%s/%v = %v", path, key, bad))
				}
				put(v)
				spoil(v, fmt.Sprintf("%s/%v", path, key))
			}
			switch x := holder.(type) {
			case body:
				x["unknown"] = 1
				compare(path + " with a member more")
				delete(x, "unknown")
				for name, v := range x {
					delete(x, name)
					compare(path + " without " + name)
					each(name, v, func(bad any) { x[name] = bad })
				}
			case []any:
				for i, v := range x[:min(1, len(x))] {
					each(i, v, func(bad any) { x[i] = bad })
				}
			}
		}
		spoil(example, "")
	})
}

// ordinary is the largest ordinary body that is validated at once: a hundred gas
// checks with everything that one may say.
func ordinary(t testing.TB) []byte {
	items := make([]body, 100)
	for i := range items {
		items[i] = body{"id": newID(), "participant_id": newID(), "reading": of(200, "bar"),
			"witnessed_at": at(saturday), "dive_id": newID(),
			"depth": of(12, "m"), "signalled": of(200,
				"bar"), "signalled_with": "two_hands", "read_after_signal": true}
	}
	text, err := json.Marshal(body{"items": items})
	require.NoError(t, err)
	return text
}

// computing returns the CPU time that something needs, on the average of so many
// runs, without the collection of garbage, which depends on everything else that
// the process has.
func computing(times int, do func()) time.Duration {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	runtime.GC()
	defer debug.SetGCPercent(debug.SetGCPercent(-1))
	began := cpuTime()
	for range times {
		do()
	}
	return (cpuTime() - began) / time.Duration(times)
}

// BenchmarkFullLimit sends every operation a body of its full limit made of the
// smallest items, and compares the dearest with parsing and validating the
// largest ordinary body: five times as much is the most, our choice.
func BenchmarkFullLimit(b *testing.B) {
	s := open(b)
	text := ordinary(b)
	yardstick := float64(computing(10, func() {
		var v any
		require.NoError(b, json.Unmarshal(text, &v))
		require.NoError(b, contract.CheckBody("recordGasChecks", text))
	}).Nanoseconds())
	b.Run("ordinary", func(b *testing.B) { b.ReportMetric(yardstick/1e6, "cpu-ms") })
	for _, op := range theContract().operations {
		if op.RequestBody == nil {
			continue
		}
		b.Run(op.OperationId, func(b *testing.B) {
			dearest, bodies := 0.0, op.greatest(b)
			worst := ""
			b.ReportAllocs()
			for b.Loop() {
				for what, content := range bodies {
					x := float64(computing(3, func() {
						s.handler.ServeHTTP(httptest.NewRecorder(),
							op.request(b, s.boss, op.address(nil), content))
					}).Nanoseconds()) / yardstick
					if x > dearest {
						dearest, worst = x, what
					}
				}
			}
			b.ReportMetric(dearest, "dearest/ordinary")
			if dearest > 5 {
				b.Logf("%s: %.1f times the largest ordinary body", worst, dearest)
			}
		})
	}
}
