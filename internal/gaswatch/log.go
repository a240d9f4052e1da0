package gaswatch

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
	"tankside/internal/waterview"
)

// Log is what was recorded of the gas of a session, with what follows from
// it: which pressure was reached at which check, what was done then, and where
// nobody looked for longer than agreed.
type Log struct {
	SessionID   uuid.UUID
	LogComplete bool // of the whole session
	Completions []waterview.LogCompletion
	Divers      []DiverLog
}

// DiverLog is the gas log of one participant.
type DiverLog struct {
	ParticipantID uuid.UUID
	PersonID      uuid.UUID
	Name          string
	Role          string
	GroupID       *uuid.UUID
	Verdicts      []waterview.CheckCount
	Dives         []DiveGas
	Surface       []waterview.GasCheck // checks that belong to no dive
}

// DiveGas is one participant's gas on one dive.
type DiveGas struct {
	DiveID      *uuid.UUID
	InAt, OutAt *time.Time
	LogComplete bool // of the dive; only then are there gaps
	Marks       signal.Marks
	CheckEvery  time.Duration
	Checks      []waterview.GasCheck
	Reached     []signal.Reached
	Responses   []waterview.Response // of the participant, and the turns of the group
	Gaps        []signal.Gap
	Doubts      finding.List // about the readings of the gauge
}

// Findings returns what the rules say to what was reached, to the gaps and to what the
// gauge showed.
func (d DiveGas) Findings() finding.List {
	return slices.Concat(findingsOf(d.Reached), gapsOf(d.Gaps), d.Doubts)
}

func findingsOf(reached []signal.Reached) (out finding.List) {
	for _, r := range reached {
		out = append(out, r.Findings...)
	}
	return out
}

func gapsOf(gaps []signal.Gap) (out finding.List) {
	for _, g := range gaps {
		out = append(out, g.Findings...)
	}
	return out
}

// Log reads the gas log of a session.
func (s *Service) Log(ctx context.Context, by actor.Actor, session uuid.UUID) (out Log, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		read, err := s.readWater(ctx, tx, dayview.Agreed, session)
		if err != nil {
			return err
		}
		w := read[0]
		out = Log{SessionID: session, LogComplete: w.complete(nil), Completions: w.completions}
		for _, d := range w.divers {
			out.Divers = append(out.Divers, w.diverLog(d, tx.Now))
		}
		return nil
	})
	return out, err
}

// sessionGas is what was recorded of the gas of a session.
type sessionGas struct {
	agreed      Agreed // with the view of the session
	divers      []diver
	log         []waterview.Dive
	checks      []waterview.GasCheck
	responses   []waterview.Response
	completions []waterview.LogCompletion
	doubts      map[uuid.UUID]finding.List // about readings, by entry; see doubtGauges
}

// diver is a participant of the session.
type diver struct {
	SessionID uuid.UUID
	ID        uuid.UUID
	GroupID   *uuid.UUID
	PersonID  uuid.UUID
	Role      string
	GaugeUnit units.Unit
	Name      string
}

// diversOf returns the participants of a session, in the order of the view.
func diversOf(v dayview.View) []diver {
	out := make([]diver, len(v.Participants))
	for i, p := range v.Participants {
		out[i] = diver{SessionID: v.ID, ID: p.ID, GroupID: p.GroupID, PersonID: p.PersonID,
			Role:      string(p.Role),
			GaugeUnit: p.GaugeUnit, Name: p.PersonName}
	}
	return out
}

// readWater reads what was recorded in some sessions, in their order, with some parts
// of their views, in one round trip and each by statements of its own: plans are made
// once for any number of ids, and one for many is a poor one for one. Fault: not_found
// where a session is not there.
func (s *Service) readWater(ctx context.Context, tx *pg.Tx, want dayview.Parts,
	sessions ...uuid.UUID) ([]*sessionGas, error) {
	var b pgx.Batch
	rows := dayview.Query{Sessions: sessions, Want: want}.Queue(&b)
	out := make([]*sessionGas, len(sessions))
	for i, id := range sessions {
		w := &sessionGas{}
		waterview.QueueDives(&b, &w.log, id)
		waterview.QueueGasChecks(&b, &w.checks, id)
		waterview.QueueResponses(&b, &w.responses, id)
		waterview.QueueLogCompletions(&b, &w.completions, id)
		out[i] = w
	}
	if err := tx.Send(ctx, &b); err != nil {
		return nil, err
	}
	views := map[uuid.UUID]dayview.View{}
	for _, v := range rows.Views() {
		views[v.ID] = v
	}
	for i, w := range out {
		v, there := views[sessions[i]]
		if !there {
			return nil, fault.NoSuch("session")
		}
		w.agreed, w.divers = AgreedIn(v), diversOf(v)
		w.enrol()
		if err := s.doubtGauges(ctx, tx, w); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// enrol sets the enrolments by which the participants of entries take part.
func (w *sessionGas) enrol() {
	enrolments := make(map[uuid.UUID]*uuid.UUID, len(w.divers))
	for _, p := range w.agreed.view.Participants {
		enrolments[p.ID] = p.EnrolmentID
	}
	for i := range w.checks {
		w.checks[i].EnrolmentID = enrolments[*w.checks[i].ParticipantID]
	}
	for i := range w.responses {
		w.responses[i].EnrolmentID = enrolments[*w.responses[i].ParticipantID]
	}
}

// complete reports whether the log of a dive is complete, of the whole session
// for nil: somebody of the crew said so, or closed the session as complete.
func (w *sessionGas) complete(dive *uuid.UUID) bool {
	return w.agreed.view.LogComplete || slices.ContainsFunc(w.completions, func(c waterview.LogCompletion) bool {
		return c.DiveID == nil || dive != nil && *c.DiveID == *dive
	})
}

// diverLog returns the log of one participant.
func (w *sessionGas) diverLog(d diver, now time.Time) DiverLog {
	out := DiverLog{ParticipantID: d.ID, PersonID: d.PersonID, Name: d.Name, Role: d.Role, GroupID: d.GroupID}
	all, surface := w.stretches(d.ID)
	out.Surface = surface
	for _, s := range all {
		out.Dives = append(out.Dives, w.diveGas(d, all, s, now))
	}
	own := slices.DeleteFunc(slices.Clone(w.checks),
		func(c waterview.GasCheck) bool { return *c.ParticipantID != d.ID })
	out.Verdicts = counted(own)
	return out
}

// counted counts checks by their verdicts.
func counted(checks []waterview.GasCheck) (out []waterview.CheckCount) {
	count := map[signal.Verdict]int{}
	for _, c := range checks {
		count[c.Verdict]++
	}
	for v, n := range count {
		out = append(out, waterview.CheckCount{Verdict: string(v), Count: n})
	}
	slices.SortFunc(out, func(a, b waterview.CheckCount) int { return strings.Compare(a.Verdict, b.Verdict) })
	return out
}

// diveGas judges one participant's stretch: all that follows from the entries
// by the times at which they were witnessed.
func (w *sessionGas) diveGas(d diver, all []*stretch, s *stretch, now time.Time) DiveGas {
	g := DiveGas{DiveID: s.DiveID, LogComplete: w.complete(s.DiveID), Checks: s.Checks,
		Responses: w.responsesTo(d, all, s),
		Marks:     w.agreed.Marks(d.ID, d.GaugeUnit, s.DiveID), Doubts: w.doubtsOf(s.Checks)}
	watch := signal.DiveWatch{Marks: g.Marks, Looks: looks(s.Checks), Now: now, Out: w.end(s)}
	for _, r := range g.Responses {
		watch.Deeds = append(watch.Deeds,
			signal.SeenResponse{ID: r.ID.String(), At: r.WitnessedAt, What: r.What})
	}
	g.Reached = signal.Watch(watch)
	if d.Role == "student" { // the crew looks after its own
		g.CheckEvery = w.agreed.checkEvery(d.PersonID)
	}
	if s.Logged != nil {
		g.InAt, g.OutAt = &s.Logged.InAt, s.Logged.OutAt
	}
	if g.LogComplete && s.Logged != nil {
		g.Gaps = signal.Gaps(s.stay(g.CheckEvery))
	}
	return g
}

// end returns the end of a stretch: the time out, or the end of the session where
// none was recorded; nil while it lasts.
func (w *sessionGas) end(s *stretch) *signal.SeenResponse {
	if s.Logged != nil && s.Logged.OutAt != nil {
		return &signal.SeenResponse{ID: s.Logged.EndID.String(), At: *s.Logged.OutAt}
	}
	if ended := w.agreed.view.EndedAt; ended != nil {
		return &signal.SeenResponse{At: *ended}
	}
	return nil
}

// responsesTo returns the responses that belong to a participant's stretch: the
// participant's own, and whenever the group turned.
func (w *sessionGas) responsesTo(d diver, all []*stretch, s *stretch) (out []waterview.Response) {
	for _, r := range w.responses {
		if *r.ParticipantID != d.ID && !(r.What == signal.Turned && w.together(d, *r.ParticipantID)) {
			continue
		}
		if belongs(all, r.DiveID, r.WitnessedAt) == s || r.DiveID == nil && before(all, r.WitnessedAt) == s {
			out = append(out, r)
		}
	}
	return out
}

// together reports whether a participant is in somebody's group.
func (w *sessionGas) together(d diver, other uuid.UUID) bool {
	return d.GroupID != nil && slices.ContainsFunc(w.divers, func(o diver) bool {
		return o.ID == other && o.GroupID != nil && *o.GroupID == *d.GroupID
	})
}
