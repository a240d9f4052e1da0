package httpapi

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/api"
	"tankside/internal/assessment"
	"tankside/internal/gaswatch"
	"tankside/internal/journal"
	"tankside/internal/live"
	"tankside/internal/pg"
	"tankside/internal/sessions"
)

// LiveWords say what happens in sessions in the contract's words, for the hub:
// once for all listeners of an instance.
type LiveWords struct {
	Sessions *sessions.Service
	Gaswatch *gaswatch.Service
	Kinds    journal.Kinds // whose sentences entries are shown with
}

// Tell writes events; see live.Options.
func (w LiveWords) Tell(ctx context.Context, tx *pg.Tx, events []live.Event) ([][]byte, error) {
	words, err := w.read(ctx, tx, events)
	if err != nil {
		return nil, err
	}
	out := make([][]byte, len(events))
	for i, e := range events {
		resource, data := words.of(e)
		v := api.LiveEvent{ID: orNull(new(fmt.Sprintf("%s/%d", e.SessionID, e.Seq))), Type: e.Type,
			At: e.At.UTC(), SessionID: orNull(&e.SessionID),
			Resource: orNull(&resource), Data: orNull[any](nil)}
		if data != nil {
			v.Data.Set(data)
		}
		if out[i], err = json.Marshal(v); err != nil {
			return nil, fmt.Errorf("tell %s: %w", e.Type, err)
		}
	}
	return out, nil
}

// Stand writes how sessions stand; see live.Options.
func (w LiveWords) Stand(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) ([]json.RawMessage, error) {
	standings, err := w.Sessions.Standings(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	watched, err := w.Gaswatch.WatchIn(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	divers := map[uuid.UUID][]gaswatch.Status{}
	for _, d := range watched {
		divers[d.SessionID] = append(divers[d.SessionID], d)
	}
	out := make([]json.RawMessage, len(standings))
	for i, s := range standings {
		view := api.LiveSession{
			Session: sessionView(s.Session, nil),
			Groups:  each(s.Groups, func(g sessions.Group) api.Group { return groupView(g, nil) }),
			Participants: each(s.Participants,
				func(p sessions.Participant) api.Participant { return participantView(p, nil) }),
			Divers: each(divers[s.Session.ID], watchedView),
		}
		if out[i], err = json.Marshal(view); err != nil {
			return nil, fmt.Errorf("say how a session stands: %w", err)
		}
	}
	return out, nil
}

// liveWords are the rows that some events name, by their ids.
type liveWords struct {
	entries    map[uuid.UUID]journal.Head
	clearances map[uuid.UUID]sessions.Clearance
	signOffs   map[uuid.UUID]assessment.SignedOff
	said       map[journal.Kind]liveWriter // of the kinds that the live view says more of
}

// read reads them all in one round trip.
func (w LiveWords) read(ctx context.Context, tx *pg.Tx, events []live.Event) (liveWords, error) {
	ids, entries := map[string][]uuid.UUID{}, map[journal.Kind][]uuid.UUID{}
	for _, e := range events {
		ids[rowsOf(e)] = append(ids[rowsOf(e)], e.RefID)
		entries[journal.Kind(e.Type)] = append(entries[journal.Kind(e.Type)], e.RefID)
	}
	var b pgx.Batch
	var signOffs []assessment.SignedOff
	var clearances []sessions.Clearance
	var heads []journal.Head
	sentences := journal.Summaries{}
	out := liveWords{said: map[journal.Kind]liveWriter{}}
	for kind, of := range entries {
		if tell := entryKinds[kind].live; tell != nil {
			out.said[kind] = tell.read(&b, of)
		}
	}
	if signed := ids["sign_off"]; len(signed) > 0 {
		assessment.QueueSignOffs(&b, &signOffs, signed)
	}
	if changed := ids["clearance"]; len(changed) > 0 {
		w.Sessions.QueueClearances(&b, &clearances, changed)
	}
	if bare := ids["entry"]; len(bare) > 0 {
		journal.QueueHeads(&b, &heads, bare)
		w.queueSummaries(&b, sentences, events)
	}
	if b.Len() > 0 {
		if err := tx.Send(ctx, &b); err != nil {
			return liveWords{}, err
		}
	}
	sentences.Put(heads)
	out.entries = byID(heads, func(h journal.Head) uuid.UUID { return h.ID })
	out.clearances = byID(clearances, func(c sessions.Clearance) uuid.UUID { return c.ID })
	out.signOffs = byID(signOffs, func(o assessment.SignedOff) uuid.UUID { return o.ID })
	return out, nil
}

// queueSummaries adds to a batch the sentences of the entries of which a header is
// all that is told.
func (w LiveWords) queueSummaries(b *pgx.Batch, into journal.Summaries, events []live.Event) {
	entries := map[journal.Kind][]uuid.UUID{}
	for _, e := range events {
		kind := journal.Kind(e.Type)
		if e.Type == "void" {
			kind = journal.Kind(given(e.Detail, ""))
		}
		if rowsOf(e) == "entry" {
			entries[kind] = append(entries[kind], e.RefID)
		}
	}
	w.Kinds.QueueSummaries(b, into, entries)
}

func byID[T any](list []T, id func(T) uuid.UUID) map[uuid.UUID]T {
	out := make(map[uuid.UUID]T, len(list))
	for _, x := range list {
		out[id(x)] = x
	}
	return out
}

// rowsOf returns where the row stands that an event names, "" where there is
// nothing to read of it. Whatever is not known better is an entry, kinds that
// come later included.
func rowsOf(e live.Event) string {
	switch e.Type {
	case "sign_off", "sign_off_void":
		return "sign_off"
	case "clearance_lost", "clearance_given":
		return "clearance"
	case "session", "participant":
		return ""
	}
	if tell := entryKinds[journal.Kind(e.Type)].live; tell != nil && !tell.headed {
		return "told"
	}
	return "entry"
}

// of returns what an event happened to, and what is to be said of it.
func (w liveWords) of(e live.Event) (api.LiveResource, any) {
	resource := api.LiveResource{Type: e.Type, ID: e.RefID}
	switch rowsOf(e) {
	case "sign_off":
		resource.Type = "sign_off"
		return resource, view(w.signOffs, e.RefID,
			func(o assessment.SignedOff) api.SignOff { return signOffView(o, nil) })
	case "clearance":
		resource = api.LiveResource{Type: "group", ID: w.clearances[e.RefID].GroupID}
		return resource, view(w.clearances, e.RefID, clearanceView)
	case "told", "entry":
		if e.Type == "void" {
			resource.Type = given(e.Detail, "")
		}
		return resource, w.entry(e)
	}
	if e.Type == "session" {
		return resource, api.LiveState{State: given(e.Detail, "")}
	}
	return resource, api.LiveParticipation{Change: given(e.Detail, "")}
}

// entry returns what is to be said of something witnessed, or of its void.
func (w liveWords) entry(e live.Event) any {
	if say := w.said[journal.Kind(e.Type)]; say != nil {
		return say(e.RefID, w.entries[e.RefID])
	}
	return view(w.entries, e.RefID, entryView)
}

func clearanceView(c sessions.Clearance) api.LiveClearance {
	return api.LiveClearance{GroupID: c.GroupID, GroupName: c.Name, Cleared: c.Cleared, Cause: c.Cause,
		Findings: findings(c.Findings)}
}

// view writes what has this id, nil when it is not there.
func view[T, V any](rows map[uuid.UUID]T, id uuid.UUID, write func(T) V) any {
	row, ok := rows[id]
	if !ok {
		return nil
	}
	return write(row)
}
