package httpapi

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/api"
	"tankside/internal/fault"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/journal"
	"tankside/internal/offline"
	"tankside/internal/once"
	"tankside/internal/sessions"
	"tankside/internal/waterview"
)

// entryKind is how entries of one kind come and go at the edge. A batch holds the body
// of an entry against the schema of the single post and reads it by the same mapper.
type entryKind struct {
	operation string
	path      string // with the id of what the entry is about
	list      bool   // it takes a list of such bodies
	about     func(api.BatchEntry) *uuid.UUID
	named     string // the member that names what it is about
	read      func(e api.BatchEntry, key once.Key, about uuid.UUID, body []byte) (journal.Item, error)
	live      *teller // of what the live view says beyond the header; nil: nothing
}

func aboutSession(e api.BatchEntry) *uuid.UUID { return e.SessionID }
func aboutDive(e api.BatchEntry) *uuid.UUID    { return e.DiveID }
func aboutOuting(e api.BatchEntry) *uuid.UUID  { return e.OutingID }

// entryKinds are the kinds of entries that a batch takes; an incident is of an outing
// here, or of a session.
var entryKinds = map[journal.Kind]entryKind{
	journal.RollCall: {"recordRollCalls", "/v1/sessions/%s/roll-calls", true, aboutSession, "session_id",
		reads(rollCall),
		tells(sessions.QueueCalled, func(c sessions.RollCallEntry) uuid.UUID { return c.ID }, attendanceView)},
	journal.Conditions: {"recordConditions", "/v1/sessions/%s/conditions", false, aboutSession, "session_id",
		creates(conditions), nil},
	journal.HeadCount: {"recordHeadCount", "/v1/outings/%s/head-counts", false, aboutOuting, "outing_id",
		creates(headCount), nil},
	journal.Incident: {"recordIncident", "/v1/outings/%s/incidents", false, aboutOuting, "outing_id",
		creates(outingIncident), nil},
	journal.TimeIn: {"recordTimesIn", "/v1/dives/%s/times-in", true, aboutDive, "dive_id", reads(timeIn),
		tellsAlone(waterview.QueueDivesByStart, func(d waterview.Dive) uuid.UUID { return d.StartID },
			loggedView)},
	journal.TimeOut: {"recordTimesOut", "/v1/dives/%s/times-out", true, aboutDive, "dive_id", reads(timeOut),
		tellsAlone(waterview.QueueDivesByEnd, func(d waterview.Dive) uuid.UUID { return *d.EndID },
			loggedView)},
	journal.GasCheck: {"recordGasChecks", "/v1/sessions/%s/gas-checks", true, aboutSession, "session_id",
		reads(gasCheck),
		tellsAlone(waterview.QueueGasChecksByID, func(c waterview.GasCheck) uuid.UUID { return c.ID },
			gasCheckView)},
	journal.DrillAttempt: {"recordDrillAttempts", "/v1/sessions/%s/drill-attempts", true, aboutSession,
		"session_id", reads(attempt),
		tellsAlone(waterview.QueueAttemptsByID, func(a waterview.Attempt) uuid.UUID { return a.ID },
			attemptView)},
	journal.GasResponse: {"recordResponses", "/v1/sessions/%s/responses", true, aboutSession, "session_id",
		reads(gasResponse),
		tellsAlone(waterview.QueueResponsesByID, func(r waterview.Response) uuid.UUID { return r.ID },
			responseView)},
	journal.LogCompletion: {"recordLogCompletion", "/v1/sessions/%s/log-completions", true, aboutSession,
		"session_id", reads(logCompletion), nil},
	journal.SignOff: {"createSignOffs", "/v1/sessions/%s/sign-offs", true, aboutSession, "session_id",
		readSigning, nil},
}

// ofSession is an incident that names its session.
var ofSession = entryKind{"recordSessionIncident", "/v1/sessions/%s/incidents", false, aboutSession,
	"session_id", creates(sessionIncident), nil}

// liveWriter returns what is said of an entry, by its id and its header; nil where there is
// nothing to say.
type liveWriter func(id uuid.UUID, head journal.Head) any

// teller reads within a batch what the live view says of entries of one kind.
type teller struct {
	read   func(b *pgx.Batch, ids []uuid.UUID) liveWriter
	headed bool // it needs the headers too
}

// tells makes a teller of a reading, of what identifies its rows, and of a mapper that
// needs the header too.
func tells[T, V any](queue func(*pgx.Batch, *[]T, []uuid.UUID), id func(T) uuid.UUID,
	write func(T, journal.Head) V) *teller {
	return &teller{headed: true, read: func(b *pgx.Batch, ids []uuid.UUID) liveWriter {
		rows := new([]T)
		queue(b, rows, ids)
		return func(of uuid.UUID, head journal.Head) any {
			for _, x := range *rows {
				if id(x) == of {
					return write(x, head)
				}
			}
			return nil
		}
	}}
}

// tellsAlone is tells for a mapper that needs no header.
func tellsAlone[T, V any](queue func(*pgx.Batch, *[]T, []uuid.UUID), id func(T) uuid.UUID,
	write func(T) V) *teller {
	out := tells(queue, id, func(x T, _ journal.Head) V { return write(x) })
	out.headed = false
	return out
}

func attendanceView(c sessions.RollCallEntry, head journal.Head) api.LiveAttendance {
	return api.LiveAttendance{ParticipantID: c.ParticipantID, Attendance: string(c.Attendance),
		Note:        orNull(c.Note),
		WitnessedBy: head.WitnessedBy, RecordedBy: orNull(head.RecordedBy), WitnessedAt: head.WitnessedAt.UTC()}
}

// item is the type of what an entry of a kind says.
type item[T any] interface {
	*T
	journal.Item
}

// reads makes a reader of the mapper of a single post's item.
func reads[A, T any, P item[T]](view func(A) T) func(api.BatchEntry, once.Key, uuid.UUID, []byte) (journal.Item,
	error) {
	return func(_ api.BatchEntry, _ once.Key, _ uuid.UUID, body []byte) (journal.Item, error) {
		var a A
		err := json.Unmarshal(body, &a)
		return P(new(view(a))), err
	}
}

// creates is reads for what a single post creates under a key.
func creates[A, T any, P item[T]](view func(once.Key, uuid.UUID, A) T) func(api.BatchEntry, once.Key, uuid.UUID,
	[]byte) (journal.Item, error) {
	return func(_ api.BatchEntry, key once.Key, about uuid.UUID, body []byte) (journal.Item, error) {
		var a A
		err := json.Unmarshal(body, &a)
		return P(new(view(key, about, a))), err
	}
}

func readSigning(e api.BatchEntry, _ once.Key, _ uuid.UUID, body []byte) (journal.Item, error) {
	if e.SignedAt == nil {
		return nil, fault.Invalid("/signed_at",
			"Say in signed_at when the sign-off was made, by the device's clock.")
	}
	var w api.SignOffAdd
	err := json.Unmarshal(body, &w)
	out := signing(w)
	out.SignedAt = e.SignedAt
	return &out, err
}

func outingIncident(key once.Key, outing uuid.UUID, b api.IncidentAdd) sessions.NewIncident {
	n := incident(key, b)
	n.OutingID = &outing
	return n
}

func sessionIncident(key once.Key, session uuid.UUID, b api.IncidentAdd) sessions.NewIncident {
	n := incident(key, b)
	n.SessionID = &session
	return n
}

// sent reads one entry of a batch. What is wrong with it refuses it alone.
func sent(c *contract.Contract, raw json.RawMessage) offline.BatchEntry {
	e, err := c.Entry(raw)
	if err != nil {
		refusal, _ := answer.FaultOf(err)
		out := unread(raw, refusal)
		out.Received = raw
		return out
	}
	out := offline.BatchEntry{EntryID: e.ID, Kind: journal.Kind(e.Kind), SessionID: e.SessionID,
		DiveID: e.DiveID, OutingID: e.OutingID, SignedAt: e.SignedAt, Received: raw, Body: contract.Canonical(e.Body)}
	if e.Clock != nil {
		out.Ticks = &journal.Ticks{Clock: e.Clock.ID, MS: e.Clock.TicksMs}
	}
	how := entryKinds[out.Kind]
	if out.Kind == journal.Incident && e.SessionID != nil {
		how = ofSession
	}
	item, err := how.item(c, e)
	if err != nil {
		out.Refusal, _ = answer.FaultOf(err)
		return out
	}
	out.Item = item
	return out
}

// item holds an entry against the contract of its single post, and reads it.
func (how entryKind) item(c *contract.Contract, e api.BatchEntry) (i journal.Item, err error) {
	about := how.about(e)
	if about == nil || named(e) != 1 {
		return i, fault.Invalid("/"+how.named,
			"An entry of the kind {kind} names its {member}, and nothing else.", e.Kind, how.named)
	}
	if e.SignedAt != nil && journal.Kind(e.Kind) != journal.SignOff {
		return i, fault.Invalid("/signed_at", "Only a sign-off has signed_at.")
	}
	body, err := withID(e)
	if err != nil {
		return i, err
	}
	asked := body
	if how.list {
		asked = fmt.Appendf(nil, `{"items":[%s]}`, body)
	}
	if err := c.CheckItem(how.operation, asked); err != nil {
		return i, inBody(err, how.list)
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "POST "+how.path+"\n%s", about, body)) // as the single post has it: see call.digest
	return how.read(e, once.Key{ID: e.ID, Digest: sum[:]}, *about, body)
}

// named counts what an entry names.
func named(e api.BatchEntry) (n int) {
	for _, id := range []*uuid.UUID{e.SessionID, e.DiveID, e.OutingID} {
		if id != nil {
			n++
		}
	}
	return n
}

// withID returns the canonical body of an entry with its id in it.
func withID(e api.BatchEntry) ([]byte, error) {
	var members map[string]any
	if err := json.Unmarshal(e.Body, &members); err != nil || members == nil {
		return nil, fault.Invalid("/body", "The body of an entry is a JSON object.")
	}
	if id, ok := members["id"]; !ok {
		members["id"] = e.ID.String()
	} else if text, isText := id.(string); !isText || !strings.EqualFold(text, e.ID.String()) {
		return nil, fault.Invalid("/body/id", "An id in the body is the entry's own.")
	}
	return json.Marshal(members)
}

// inBody makes the pointers of a refusal those of the entry.
func inBody(err error, list bool) error {
	f, ok := fault.Of(err)
	if !ok {
		return err
	}
	for i := range f.Findings {
		at := f.Findings[i].Pointer
		if list {
			at = strings.TrimPrefix(at, "/items/0")
		}
		f.Findings[i].Pointer = "/body" + at
	}
	return f
}
