package httpapi_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// raw sends entries as they are written, in an envelope that is right.
func (p phone) raw(now time.Time, entries ...string) answer {
	p.t.Helper()
	p.Clock(now)
	return p.of.post("/v1/batches",
		fmt.Sprintf(`{"device_id": %q, "sent_at": %q, "entries": [%s]}`, p.name, p.at(now),
			strings.Join(entries, ",")))
}

func jsonOf(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

// One good gas check beside each malformed entry that a phone may send: the check
// is recorded, the other is refused alone, kept as it was sent, listed, and
// answered the same however often it comes.
func TestAMalformedEntryIsRefusedAlone(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	sofia, now := w.part(w.confined, w.sofia), saturday.Add(5*time.Hour)
	p := phone{season: w, of: w.assistant, name: "phone 3"}
	check := func() body {
		return entry("gas_check", w.confined,
			body{"participant_id": sofia, "no_answer": true, "witnessed_at": p.at(saturday.Add(time.Hour))})
	}
	changed := func(name string, value any) string {
		e := check()
		if e[name] = value; value == nil {
			delete(e, name)
		}
		return jsonOf(t, e)
	}
	for name, c := range map[string]struct {
		sent    string
		pointer string
		kind    string // as it is listed
	}{
		"unknown kind": {changed("kind", "bubble_count"), "/kind", "malformed"},
		"no kind":      {changed("kind", nil), "/kind", "malformed"},
		"no body":      {changed("body", nil), "/body", "gas_check"},
		"null body": {strings.Replace(changed("body", 1), `"body":1`, `"body":null`, 1), "/body",
			"gas_check"},
		"body is a text": {changed("body", "all well"), "/body", "gas_check"},
		"malformed id":   {changed("id", "seven"), "/id", "gas_check"},
		"no id":          {changed("id", nil), "/id", "gas_check"},
		"extra member":   {changed("colour", "red"), "/colour", "gas_check"},
		"extra member of it": {changed("body",
			body{"participant_id": sofia, "no_answer": true, "colour": "red"}), "/body", "gas_check"},
		"a text with U+0000": {changed("body", body{"participant_id": sofia, "note": "a\x00b"}), "/body/note",
			"gas_check"},
		"a member twice": {strings.Replace(changed("body", 1), `"body":1`, `"body":{},"body":{}`, 1),
			"/body", "gas_check"},
		"invalid UTF-8": {strings.Replace(changed("body", 1), `"body":1`, "\"body\":{\"note\":\"\xff\"}",
			1), "", "gas_check"},
		"too deep": {strings.Replace(changed("body", 1), `"body":1`, `"body":`+
			strings.Repeat("[", 40)+strings.Repeat("]", 40), 1), "/body", "gas_check"},
		"a clock of its own": {changed("clock", body{"id": newID(), "ticks_ms": 12.5}), "/clock/ticks_ms",
			"gas_check"},
		"a clock too far": {changed("clock", body{"id": newID(), "ticks_ms": 1 << 60}), "/clock/ticks_ms",
			"gas_check"},
		"a number":            {"7", "", "malformed"},
		"nothing":             {"null", "", "malformed"},
		"a list of batches":   {`[{"entries": []}]`, "", "malformed"},
		"a session of no id":  {changed("session_id", "pool"), "/session_id", "gas_check"},
		"a kind that is none": {changed("kind", body{"a": 1}), "/kind", "malformed"},
	} {
		t.Run(name, func(t *testing.T) {
			p := p
			p.of = p.of.on(t)
			good := check()
			a := p.raw(now, c.sent, jsonOf(t, good)).want(http.StatusOK)
			require.Equal(t, []any{"refused", "recorded"}, statuses(a), "%s", a.text)
			refused := a.list("items")[0]
			require.Equal(t, "invalid_request", refused["problem"].(body)["code"])
			found := refused["findings"].([]any)
			require.NotEmpty(t, found)
			at := found[0].(body)["pointer"]
			if c.pointer != "/body" || at == nil {
				require.Equal(t, c.pointer, pointerOf(at), "%s", a.text)
			} else {
				require.True(t, strings.HasPrefix(at.(string), "/body"), at)
			}
			again := p.raw(now.Add(time.Hour), jsonOf(t, good), c.sent).want(http.StatusOK)
			require.Equal(t, []any{"already_recorded", "refused"}, statuses(again))
			require.Equal(t, withoutInstance(refused), withoutInstance(again.list("items")[1]),
				"sent again, it is answered the same")

			var kept []body
			for _, k := range w.instructor.on(t).get("/v1/held-entries?state=refused&limit=200").want(http.StatusOK).list("items") {
				if k["entry_id"] == refused["id"] {
					kept = append(kept, k)
				}
			}
			require.Len(t, kept, 1, "it is kept once")
			require.Equal(t, c.kind, kept[0]["kind"])
			require.NotNil(t, kept[0]["problem"])
			if name != "extra member of it" { // that one is an entry whose body is not right, and is kept as such
				require.Equal(t, strings.ToValidUTF8(strings.ReplaceAll(c.sent, " ", ""), "\uFFFD"),
					strings.ReplaceAll(kept[0]["sent"].(string), " ", ""))
			}
		})
	}
}

// pointerOf returns a pointer that an answer has, "" where it has none.
func pointerOf(pointer any) string {
	text, _ := pointer.(string)
	return text
}

// withoutInstance leaves out what differs from answer to answer.
func withoutInstance(result body) body {
	delete(result["problem"].(body), "instance")
	return result
}

// What is around the entries refuses the whole batch, and nothing of it is kept.
func TestWhatIsAroundTheEntriesRefusesTheBatch(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	good := jsonOf(t, entry("gas_check", w.confined,
		body{"participant_id": w.part(w.confined, w.sofia), "no_answer": true, "witnessed_at": at(saturday)}))
	clock := newID()
	for name, c := range map[string]struct{ sent, pointer string }{
		"no JSON": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": [` + good +
			`}`, "/entries"},
		"no list": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z"}`, "/entries"},
		"no list but a thing": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": ` + good +
			`}`, "/entries"},
		"an empty list": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": []}`,
			"/entries"},
		"too many": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": [` +
			strings.Repeat(good+",", 200) + good + `]}`,
			"/entries"},
		"far too many": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": [` +
			strings.Repeat("0,", 400000) + `0]}`, "/entries"},
		"two lists": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": [` + good +
			`], "entries": [` + good + `]}`, "/entries"},
		"an extra": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "colour": 1, "entries": [` +
			good + `]}`, "/colour"},
		"no time": {`{"device_id": "x", "entries": [` + good + `]}`, "/sent_at"},
		"more after it": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "entries": [` + good + `]} {}`,
			""},
		"a clock twice": {`{"device_id": "x", "sent_at": "2026-06-06T10:00:00Z", "clocks": [{"id": "` + clock +
			`", "ticks_ms": 1}, {"id": "` + clock +
			`", "ticks_ms": 2}], "entries": [` + good + `]}`, "/clocks/1/id"},
	} {
		t.Run(name, func(t *testing.T) {
			a := w.assistant.on(t).post("/v1/batches", c.sent).refused(http.StatusBadRequest, "invalid_request")
			require.Equal(t, c.pointer, pointerOf(a.list("findings")[0]["pointer"]), "%s", a.text)
			require.Less(t, len(a.text), 16<<10)
		})
	}
	require.Empty(t, w.instructor.get("/v1/held-entries?state=refused&state=held&state=recorded").ids())
}

// 200 entries of which each breaks the contract at many places are answered in
// bounds, and each of them says at least one thing that is wrong.
func TestABatchOfBrokenEntriesIsAnsweredInBounds(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	var broken []string
	for n := range 200 {
		var members []string
		for m := range 90 { // 200 times 90 is just within the 20,000 values of a body
			members = append(members, fmt.Sprintf(`"m%d": %d`, m, n))
		}
		broken = append(broken, "{"+strings.Join(members, ",")+"}")
	}
	a := phone{season: w, of: w.assistant, name: "phone 3"}.raw(saturday, broken...).want(http.StatusOK)
	require.Len(t, a.list("items"), 200)
	for _, r := range a.list("items") {
		require.Equal(t, "refused", r["status"])
		require.NotEmpty(t, r["findings"])
	}
	require.Less(t, len(a.text), 256<<10)
}

// A phone that was 20 minutes slow is set right by the network before it sends.
func TestAPhoneThatSetsItselfRightBeforeItSends(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	seen, now, clock := saturday.Add(time.Hour), saturday.Add(3*time.Hour), newID()
	slow := phone{season: w, of: w.assistant, off: -20 * time.Minute, name: "phone 3"}
	check := func(ticks any) body {
		e := entry("gas_check", w.confined,
			body{"participant_id": w.part(w.confined, w.sofia), "no_answer": true,
				"witnessed_at": slow.at(seen)})
		if ticks != nil {
			e["clock"] = body{"id": clock, "ticks_ms": ticks}
		}
		return e
	}
	const hour = 3600 * 1000
	alone, timed := check(nil), check(hour)
	send := func(living string, ticks int, entries ...body) answer {
		w.Clock(now)
		return w.assistant.post("/v1/batches",
			body{"device_id": "phone 3", "sent_at": at(now),
				"clocks":  []body{{"id": living, "ticks_ms": ticks}},
				"entries": entries}).want(http.StatusOK)
	}
	a := send(clock, 3*hour, alone, timed)
	require.Equal(t, []any{"recorded", "recorded"}, statuses(a))
	require.EqualValues(t, 0, a.at("correction_s"), "its clock is right now")
	require.Equal(t, []any{"signal.no_answer", "journal.ticks_differ"}, a.rules("items.1.findings"))
	header := func(e body) answer {
		return w.instructor.get("/v1/entries/" +
			e["id"].(string)).want(http.StatusOK)
	}
	require.Equal(t, []any{slow.at(seen), slow.at(seen), 0.0, nil, nil},
		pick(header(alone), "witnessed_at", "device_at", "correction_s", "by_clock_at", "doubt"))
	require.Equal(t, []any{at(seen), slow.at(seen), 1200.0, slow.at(seen), "ticks_differ"},
		pick(header(timed), "witnessed_at", "device_at", "correction_s", "by_clock_at", "doubt"))
	require.Contains(t, header(timed).rules("findings"), "journal.ticks_differ")

	// The first arrival decides: other ticks make no other entry.
	timed["clock"] = body{"id": clock, "ticks_ms": 2 * hour}
	require.Equal(t, []any{"already_recorded"}, statuses(send(clock, 3*hour, timed)))
	require.Equal(t, at(seen), header(timed).at("witnessed_at"))
	// The phone was restarted: its clock counts, and the entry is marked.
	lost := check(hour)
	require.Contains(t, send(newID(), 5, lost).rules("items.0.findings"), "journal.ticks_lost")
	require.Equal(t, []any{slow.at(seen), "ticks_lost"}, pick(header(lost), "witnessed_at", "doubt"))
	for _, h := range w.instructor.get("/v1/held-entries?state=recorded").want(http.StatusOK).list("items") {
		switch h["entry_id"] {
		case timed["id"]:
			require.Equal(t, body{"id": clock, "ticks_ms": float64(hour)}, h["clock"])
			require.EqualValues(t, 2*hour, h["elapsed_ms"])
			require.Equal(t, []any{at(seen), slow.at(seen), "ticks_differ"},
				[]any{h["witnessed_at"], h["by_clock_at"], h["doubt"]})
		case lost["id"]:
			require.Equal(t, []any{nil, "ticks_lost"}, []any{h["elapsed_ms"], h["doubt"]})
		case alone["id"]:
			require.Equal(t, []any{nil, nil, nil}, []any{h["clock"], h["by_clock_at"], h["doubt"]})
		}
	}
}
