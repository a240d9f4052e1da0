package offline

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/assessment"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/sessions"
	"tankside/internal/waterlog"
)

// entryKind is how entries of one kind are taken from a batch.
type entryKind struct {
	kind      journal.Kind
	operation string       // the single post of the kind, whose permissions it needs
	member    string       // under which the stored form has the item; it never changes
	of        reflect.Type // of the item, without its pointer
	scope     actor.Scope  // that its sender needs beside the batch's own; "" for none
	// enter records entries of one place and one batch as the single post of the kind
	// does, and returns one result for each.
	enter func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, place uuid.UUID,
		rows []held) ([]journal.Result, error)
}

// kinds are the kinds of entry that a batch brings, in the order in which they are
// judged: what others name comes first. What a kind says, stores and names stands
// with its type.
var kinds = []entryKind{
	many(journal.RollCall, "recordRollCalls", "Call", access.SessionsWrite,
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, session uuid.UUID,
			calls []sessions.NewRollCallEntry) ([]journal.Result, error) {
			out, _, err := s.sessions.EnterCalls(ctx, by, tx, session, calls)
			return out, err
		}),
	each(journal.Conditions, "recordConditions", "Report", access.SessionsWrite,
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, r sessions.Report) (finding.List, bool,
			error) {
			head, created, err := s.sessions.EnterReport(ctx, by, tx, r)
			return head.Findings, created, err
		}),
	many(journal.DiveStart, "recordTimesIn", "In", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, dive uuid.UUID,
			in []waterlog.TimeIn) ([]journal.Result, error) {
			return s.desk.EnterTimesIn(ctx, by, tx, dive, in)
		}),
	many(journal.DiveEnd, "recordTimesOut", "Out", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, dive uuid.UUID,
			out []waterlog.TimeOut) ([]journal.Result, error) {
			return s.waterlog.EnterTimesOut(ctx, by, tx, dive, out)
		}),
	many(journal.GasCheck, "recordGasChecks", "Check", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, session uuid.UUID,
			checks []waterlog.GasCheck) ([]journal.Result, error) {
			return s.waterlog.EnterGasChecks(ctx, by, tx, session, checks)
		}),
	many(journal.GasResponse, "recordResponses", "Response", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, session uuid.UUID,
			done []waterlog.Response) ([]journal.Result, error) {
			return s.waterlog.EnterResponses(ctx, by, tx, session, done)
		}),
	many(journal.LogCompletion, "recordLogCompletion", "Complete", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, session uuid.UUID,
			logs []waterlog.LogCompletion) ([]journal.Result, error) {
			return s.waterlog.EnterLogCompletions(ctx, by, tx, session, logs)
		}),
	many(journal.DrillAttempt, "recordDrillAttempts", "Attempt", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, session uuid.UUID,
			tries []waterlog.Attempt) ([]journal.Result, error) {
			return s.waterlog.EnterAttempts(ctx, by, tx, session, tries)
		}),
	each(journal.HeadCount, "recordHeadCount", "Count", access.SessionsWrite,
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, n sessions.NewHeadCount) (finding.List,
			bool, error) {
			count, created, err := s.sessions.EnterCount(ctx, by, tx, n)
			return count.Findings, created, err
		}),
	each(journal.Incident, "recordIncident", "Incident", "",
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, n sessions.NewIncident) (finding.List,
			bool, error) {
			_, created, err := s.sessions.EnterIncident(ctx, by, tx, n)
			return nil, created, err
		}),
	many(SignOffKind, "createSignOffs", "Signing", access.SignOffsWrite,
		func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, session uuid.UUID,
			wishes []assessment.Signing) ([]journal.Result, error) {
			return s.assessment.EnterSignOffs(ctx, by, tx, session, wishes)
		}),
}

// many is a kind of which a single post takes a list.
func many[T any](kind journal.Kind, operation, member string, scope actor.Scope,
	enter func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, place uuid.UUID,
		items []T) ([]journal.Result, error)) entryKind {
	return entryKind{kind: kind, operation: operation, member: member, of: reflect.TypeFor[T](), scope: scope,
		enter: func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, place uuid.UUID,
			rows []held) ([]journal.Result, error) {
			items := make([]T, len(rows))
			for i, h := range rows {
				items[i] = *any(h.Item).(*T)
			}
			return enter(ctx, by, s, tx, place, items)
		}}
}

// each is a kind that is posted one at a time. enter reports what was found and
// whether the entry is new.
func each[T any](kind journal.Kind, operation, member string, scope actor.Scope,
	enter func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, item T) (finding.List, bool,
		error)) entryKind {
	return entryKind{kind: kind, operation: operation, member: member, of: reflect.TypeFor[T](), scope: scope,
		enter: func(ctx context.Context, by actor.Actor, s *Service, tx *pg.Tx, _ uuid.UUID,
			rows []held) ([]journal.Result, error) {
			out := make([]journal.Result, len(rows))
			for i, h := range rows {
				found, created, err := enter(ctx, by, s, tx, *any(h.Item).(*T))
				if err != nil {
					return nil, err
				}
				out[i] = journal.Result{ID: h.EntryID, Status: journal.Recorded, Findings: found}
				if !created {
					out[i].Status = journal.AlreadyRecorded
				}
			}
			return out, nil
		}}
}

// kindOf returns the kind of that name.
func kindOf(kind journal.Kind) (entryKind, bool) {
	i := orderOf(kind)
	if i < 0 {
		return entryKind{}, false
	}
	return kinds[i], true
}

// orderOf returns the place of a kind in the order of judging, -1 for none.
func orderOf(kind journal.Kind) int {
	return slices.IndexFunc(kinds, func(k entryKind) bool { return k.kind == kind })
}

// correct adds the correction of the device's clock to every time of an item.
func correct(i journal.Item, by time.Duration) {
	for _, t := range i.Times() {
		*t = t.Add(by)
	}
}

// stored is an item as a row keeps it: under the member of its kind.
type stored struct{ journal.Item }

// MarshalJSON implements json.Marshaler.
func (s stored) MarshalJSON() ([]byte, error) {
	i := slices.IndexFunc(kinds,
		func(k entryKind) bool { return reflect.PointerTo(k.of) == reflect.TypeOf(s.Item) })
	if i < 0 {
		return nil, fmt.Errorf("store entry: %T is of no kind", s.Item)
	}
	return json.Marshal(map[string]journal.Item{kinds[i].member: s.Item})
}

// readStored returns the item that is stored in a form.
func readStored(text []byte, form int) (journal.Item, error) {
	if form != journal.Form {
		return nil, fmt.Errorf("read held entry: its form %d is none that this release reads", form)
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(text, &members); err != nil {
		return nil, fmt.Errorf("read held entry: %w", err)
	}
	for _, k := range kinds {
		said, there := members[k.member]
		if !there {
			continue
		}
		item := reflect.New(k.of).Interface().(journal.Item)
		strict := json.NewDecoder(bytes.NewReader(said))
		strict.DisallowUnknownFields() // what is not understood is not passed over
		if err := strict.Decode(item); err != nil {
			return nil, fmt.Errorf("read held entry: %w", err)
		}
		return item, nil
	}
	return nil, fmt.Errorf("read held entry: it is of no kind that this release knows")
}
