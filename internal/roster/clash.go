package roster

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tankside/internal/finding"
)

// Span is a time from From up to and not including To.
type Span struct{ From, To time.Time }

// Meets reports whether the two spans share any time.
func (s Span) Meets(o Span) bool { return s.From.Before(o.To) && o.From.Before(s.To) }

// Booking is a session on which a person is planned.
type Booking struct {
	Session string
	Title   string
	Span    Span
	Zone    *time.Location // of its place
}

// Clashes judges whether a person can be on a session besides those already booked. Sessions that
// touch end to start do not clash.
func Clashes(p Person, want Booking, booked []Booking) finding.List {
	var out finding.List
	for _, b := range booked {
		if b.Session == want.Session || !b.Span.Meets(want.Span) {
			continue
		}
		f := DoubleBooked.Say(
			`{person} is already on "{other}" from {from} to {to}, which overlaps "{session}".`, p.named(),
			finding.Session(b.Session, b.Title), finding.DayAndClock(b.Span.From, b.Zone),
			finding.Clock(b.Span.To, b.Zone), finding.Session(want.Session, want.Title)).
			About(p.subject(), finding.Subject{Type: "session", ID: b.Session})
		f.Found = finding.Words(b.Title)
		f.Cures = []finding.Cure{
			{Code: "choose_other_person", Message: "Choose a person who is free then."},
			{Code: "move_session", Message: "Move one of the two sessions."},
		}
		out = append(out, f)
	}
	return out
}

// Appointment is one session of a course, with what its order is judged by.
type Appointment struct {
	ID    string
	Title string
	Kind  string // theory, confined, open
	Span  Span
	Dives []int // the numbers of the training dives planned in open water
}

// Order judges one session of a course, planned or moved, against the others: open water comes
// after a confined-water session, and a training dive after those with lower numbers. The caller
// leaves out sessions that will not take place.
func Order(a Appointment, others []Appointment) finding.List {
	var out finding.List
	confinedBefore := false
	for _, o := range others {
		if o.ID == a.ID {
			continue
		}
		confinedBefore = confinedBefore || o.Kind == "confined" && !o.Span.To.After(a.Span.From)
		if a.Kind == "open" && o.Kind == "open" {
			out = append(out, diveOrder(a, o, others)...)
		}
		if a.Kind == "confined" && o.Kind == "open" && !o.Span.From.After(a.Span.From) &&
			!anyConfinedBefore(o, a, others) {
			out = append(out, openTooEarly(o))
		}
	}
	if a.Kind == "open" && !confinedBefore {
		out = append(out, openTooEarly(a))
	}
	return out
}

func sessionSubject(a Appointment) finding.Subject { return finding.Subject{Type: "session", ID: a.ID} }

func anyConfinedBefore(open, moved Appointment, others []Appointment) bool {
	return slices.ContainsFunc(others, func(o Appointment) bool {
		return o.Kind == "confined" && o.ID != moved.ID && !o.Span.To.After(open.Span.From)
	})
}

func openTooEarly(a Appointment) finding.Finding {
	f := OutOfOrder.Say(
		`"{session}" is in open water, and no confined-water session of the course ends before it starts.`,
		finding.Session(a.ID, a.Title)).About(sessionSubject(a))
	f.Cures = []finding.Cure{{Code: "plan_confined_first",
		Message: "Plan a confined-water session that ends before it, or move it to later."}}
	return f
}

// diveOrder returns a finding where a training dive would come before one with a lower number. A
// dive that was also planned earlier is merely repeated, for the students who missed it.
func diveOrder(a, o Appointment, others []Appointment) finding.List {
	first, second := a, o
	if o.Span.From.Before(a.Span.From) {
		first, second = o, a
	}
	for _, n := range first.Dives {
		for _, m := range second.Dives {
			if m < n && !plannedBy(m, first, second, others) {
				f := DiveOutOfOrder.Say(
					`Training dive {dive} is planned on "{session}", before training dive {earlier_dive} on "{earlier_session}".`,
					n, finding.Session(first.ID, first.Title), m, finding.Session(second.ID, second.Title)).About(sessionSubject(a), sessionSubject(o))
				f.Cures = []finding.Cure{{Code: "swap_dives",
					Message: "Plan the dives in the order of the syllabus, or move one of the sessions."}}
				return finding.List{f}
			}
		}
	}
	return nil
}

// plannedBy reports whether a training dive is planned on a session or before it. The session but
// is left out.
func plannedBy(dive int, on, but Appointment, others []Appointment) bool {
	return slices.Contains(on.Dives, dive) || slices.ContainsFunc(others, func(o Appointment) bool {
		return o.ID != but.ID && o.ID != on.ID && o.Span.From.Before(on.Span.From) &&
			slices.Contains(o.Dives, dive)
	})
}

// Site judges whether the kind of water at a site suits a session. A confined-water session needs a
// confined site, an open-water session open water.
func Site(session, site string, subject finding.Subject) finding.List {
	if session == "theory" || session == site {
		return nil
	}
	f := WrongSite.Say("A session in {session} water cannot be held at a site with {site} water.",
		session, site).About(subject)
	f.Limit, f.Found = finding.Words(session), finding.Words(site)
	f.Cures = []finding.Cure{{Code: "choose_other_site",
		Message: fmt.Sprintf("Choose a site with %s water.", session)}}
	return finding.List{f}
}

// Qualified judges whether a person's role at the centre fits the part in a
// session. An instructor may assist; an assistant may not be in charge.
func Qualified(p Person, roles []string, part string) finding.List {
	need := map[string][]string{"in_charge": {"instructor"}, "instructor": {"instructor"},
		"assistant": {"assistant", "instructor"}}[part]
	if len(need) == 0 || slices.ContainsFunc(need, func(r string) bool { return slices.Contains(roles, r) }) {
		return nil
	}
	f := NotQualified.Say("{person} is no {role} at this centre and cannot be {part}.", p.named(),
		strings.Join(need, " or "), strings.ReplaceAll(part, "_", " ")).About(p.subject())
	f.Limit, f.Found = finding.Words(strings.Join(need, " or ")), finding.Words(strings.Join(roles, ", "))
	f.Cures = []finding.Cure{{Code: "choose_other_person",
		Message: "Choose a person with that role, or give the person the role if it is so."}}
	return finding.List{f}
}
