package httpapi

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
	"tankside/internal/journal"
	"tankside/internal/offline"
)

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
	f.Message = contract.Clip(f.Message, contract.LongestMessage/4)
	for i, one := range f.Findings {
		one.Message, one.Pointer = contract.Clip(one.Message, contract.LongestMessage/4), contract.Clip(one.Pointer, contract.LongestPointer/4)
		params := make(map[string]any, len(one.Params))
		for name, v := range one.Params {
			if text, ok := v.(string); ok {
				v = contract.Clip(text, contract.LongestPointer/4)
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
