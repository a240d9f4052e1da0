package httpapi

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"

	"github.com/google/uuid"
	"github.com/pb33f/libopenapi"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/offline"
)

// alone is a list in the body of an operation whose items are refused one by one
// (x-each-alone): what is around them is held against the contract before the
// handler runs, and each item by the handler.
type alone struct {
	name string // of the member of the body; "": the operation has none
	most int    // items
}

// readAlone finds the list of a body whose items are refused one by one.
func readAlone(body *v3.RequestBody) (alone, error) {
	for _, media := range body.Content.FromOldest() {
		if media.Schema == nil {
			continue
		}
		schema, err := media.Schema.BuildSchema()
		if err != nil {
			return alone{}, err
		}
		if schema.Properties == nil {
			continue
		}
		for name, proxy := range schema.Properties.FromOldest() {
			list, err := proxy.BuildSchema()
			if err != nil {
				return alone{}, err
			}
			if list.Extensions == nil || list.Extensions.GetOrZero("x-each-alone") == nil {
				continue
			}
			if list.MaxItems == nil {
				return alone{}, fmt.Errorf("%s: want maxItems beside x-each-alone", name)
			}
			return alone{name: name, most: int(*list.MaxItems)}, nil
		}
	}
	return alone{}, nil
}

// componentSchema returns a schema of the contract by its name.
func componentSchema(model *libopenapi.DocumentModel[v3.Document], name string) (*base.Schema, error) {
	proxy, ok := model.Model.Components.Schemas.Get(name)
	if !ok {
		return nil, fmt.Errorf("no schema %s", name)
	}
	return proxy.BuildSchema()
}

// around returns a body without what the items of the list say: each is null. Of
// more items than are taken it keeps one more than that, which refuses the body.
// What is no JSON object stays as it is, and is refused as that.
func (a alone) around(body []byte) []byte {
	d := json.NewDecoder(bytes.NewReader(body))
	if open, err := d.Token(); err != nil || open != json.Delim('{') {
		return body
	}
	out := bytes.NewBufferString("{")
	var value json.RawMessage
	for n := 0; d.More(); n++ {
		name, err := d.Token()
		if err != nil || d.Decode(&value) != nil {
			return body
		}
		quoted, err := json.Marshal(name)
		if err != nil {
			return body
		}
		if n > 0 {
			out.WriteByte(',')
		}
		out.Write(quoted)
		out.WriteByte(':')
		if name != a.name || !a.count(out, value) {
			out.Write(value)
		}
		value = value[:0]
	}
	if _, err := d.Token(); err != nil {
		return body
	}
	out.WriteByte('}')
	out.Write(body[d.InputOffset():])
	return out.Bytes()
}

// count writes a null for each item of a list, and reports whether it is one.
func (a alone) count(out *bytes.Buffer, list json.RawMessage) bool {
	d := json.NewDecoder(bytes.NewReader(list))
	if open, err := d.Token(); err != nil || open != json.Delim('[') {
		return false
	}
	out.WriteByte('[')
	var item json.RawMessage
	for n := 0; n <= a.most && d.More() && d.Decode(&item) == nil; n++ {
		if n > 0 {
			out.WriteByte(',')
		}
		out.WriteString("null")
		item = item[:0]
	}
	out.WriteByte(']')
	return true
}

// entry reads one entry of a batch. The error is the fault that refuses it alone,
// its findings pointing into the entry.
func (c *contract) entry(raw json.RawMessage) (api.BatchEntry, error) {
	var e api.BatchEntry
	if breaches := measured(raw, c.entryShape); len(breaches) > 0 {
		return e, breach(breaches)
	}
	var members any
	if err := json.Unmarshal(raw, &members); err != nil {
		return e, fmt.Errorf("read entry of a batch: %w", err)
	}
	if members == nil { // the validator takes null for nothing to validate
		f := breached("got null, want object")
		f.In = "body"
		return e, breach(finding.List{f})
	}
	if ok, errs := c.schemas.ValidateSchemaObject(c.batchEntry, members); !ok {
		found := translate(errs)
		for i := range found {
			found[i].In = "body"
		}
		return e, breach(found)
	}
	if err := json.Unmarshal(raw, &e); err != nil { // a number that no whole number is written like: 1e3
		f := wrongType.Of("A whole number is written with digits alone, like 1000.")
		f.In = "body"
		return e, breach(finding.List{f})
	}
	return e, nil
}

// unread returns an entry that is no entry of the contract, with what can be told
// of it: its id, its kind and what it names.
func unread(raw json.RawMessage, refusal *fault.Fault) offline.BatchEntry {
	var bytesOf bytes.Buffer
	if json.Compact(&bytesOf, raw) != nil {
		bytesOf.Write(raw)
	}
	out := offline.BatchEntry{Kind: offline.Malformed, Body: json.RawMessage("{}"), Unread: bytesOf.Bytes(),
		Refusal: refusal}
	out.EntryID = uuid.NewHash(sha256.New(), uuid.Nil, out.Unread, 8)
	var members map[string]any
	if json.Unmarshal(raw, &members) != nil {
		return out
	}
	if id := idIn(members, "id"); id != nil {
		out.EntryID = *id
	}
	out.SessionID, out.DiveID, out.OutingID = idIn(members, "session_id"), idIn(members,
		"dive_id"), idIn(members, "outing_id")
	if kind, is := members["kind"].(string); is {
		if _, known := entryKinds[journal.Kind(kind)]; known {
			out.Kind = journal.Kind(kind)
		}
	}
	return out
}

// idIn returns the id that a member holds, nil where it holds none.
func idIn(members map[string]any, name string) *uuid.UUID {
	text, _ := members[name].(string)
	id, err := uuid.Parse(text)
	if err != nil || len(text) != len(uuid.Nil.String()) || id == uuid.Nil {
		return nil
	}
	return &id
}

// mostShown is how many findings of refused entries an answer to a batch shows beyond
// the first of each, our choice: with 200 entries it stays below 256 KiB.
const mostShown = 10

// manyRefused is how many entries of a batch break the contract before each is told
// in few words, our choice for the same end.
const manyRefused = 50

// terse returns a refusal that repeats next to nothing of what was sent.
func terse(f fault.Fault) fault.Fault {
	f.Message = clip(f.Message, longestMessage/4)
	for i, one := range f.Findings {
		one.Message, one.Pointer = clip(one.Message, longestMessage/4), clip(one.Pointer, longestPointer/4)
		params := make(map[string]any, len(one.Params))
		for name, v := range one.Params {
			if text, ok := v.(string); ok {
				v = clip(text, longestPointer/4)
			}
			params[name] = v
		}
		one.Params, one.Source = params, "" // GET /v1/rules has the source
		f.Findings[i] = one
	}
	return f
}

// batchResults writes what became of the entries of a batch. Of entries that break
// the contract it shows findings until there are too many, then the first of each.
func batchResults(results []journal.Result) []api.EntryResult {
	left := mostShown
	out := make([]api.EntryResult, len(results))
	refused := 0
	for _, r := range results {
		if r.Refusal != nil && r.Refusal.Kind == fault.Malformed {
			refused++
		}
	}
	many := refused > manyRefused
	for i, r := range results {
		if r.Refusal != nil && r.Refusal.Kind == fault.Malformed && len(r.Findings) > 0 {
			n := min(len(r.Findings), 1+left)
			left -= n - 1
			shown := *r.Refusal
			shown.Findings = slices.Clone(r.Refusal.Findings[:n])
			if many {
				shown = terse(shown)
			}
			r.Findings, r.Refusal = shown.Findings, &shown
		}
		out[i] = resultView(r)
	}
	return out
}

// clocks reads the monotonic clocks of a device. One that is listed twice with
// different readings reads nothing that could be relied on.
func clocks(list *[]api.ClockReading) (map[uuid.UUID]int64, error) {
	out := map[uuid.UUID]int64{}
	for i, c := range given(list, nil) {
		if ms, twice := out[c.ID]; twice && ms != c.TicksMs {
			return nil, fault.Invalid("/clocks/"+strconv.Itoa(i)+"/id",
				"The clock is listed twice with different readings. List each clock once.")
		}
		out[c.ID] = c.TicksMs
	}
	return out, nil
}
