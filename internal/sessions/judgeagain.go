package sessions

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/pg"
	"tankside/internal/ratio"
	"tankside/internal/roster"
)

// DecisionKinds returns the kinds of decision about sessions, which JudgeAgain judges.
func DecisionKinds() []string {
	return []string{"create_session", "move_session", "change_session", "open_session", "create_group",
		"change_group", "replace_instructor", "create_participant", "remove_participant",
		"create_placements", "move_participants"}
}

// JudgeAgain judges a decision about a session again by what it was judged on: the
// persons whom it was about, the ratio of each group, the site and the order of teaching.
func JudgeAgain(ctx context.Context, tx *pg.Tx, made journal.Decided,
	on decision.JudgedOn) (again decision.Again, err error) {
	r, err := readRecorded(ctx, tx, *on.Session)
	if err != nil {
		return again, err
	}
	r.id, r.kind = made.SubjectID, made.Kind
	found := slices.Concat(r.judgePersons(), r.judgeGroups(), r.judgeSchedule())
	return decision.Again{Findings: found.InSession(r.id.String()), Judges: judgedAgain,
		LeftOut: "Briefings, low-gas pressures, what comes before in the syllabus, and head counts are not judged " +
			"again: what they rest on is not kept with the decision.",
		Differs: r.differs, Since: r.since}, nil
}

// judgedAgain reports whether JudgeAgain judges by a rule.
func judgedAgain(id string) bool {
	return slices.ContainsFunc(slices.Concat(ratio.Rules(), []finding.Rule{roster.CrewPaper,
		roster.AssistantUncounted, roster.StudentPaper, roster.MedicalFlagged, roster.MedicalMissing,
		roster.MinorConsent, roster.NotFit, roster.DoubleBooked, roster.WrongSite, roster.NotQualified,
		roster.OutOfOrder, roster.DiveOutOfOrder, EnrolmentNotActive, OtherSyllabus}),
		func(r finding.Rule) bool { return r.ID == id })
}

// recorded is what a decision was judged on, with the records that it names.
type recorded struct {
	decision.Session
	id      uuid.UUID // of the session
	kind    string
	day     time.Time
	papers  []dayview.RecordedPaper
	people  map[uuid.UUID]person // as they are now
	books   []ratio.Book
	differs []string
	since   []string
}

func readRecorded(ctx context.Context, tx *pg.Tx, s decision.Session) (*recorded, error) {
	r := &recorded{Session: s}
	var err error
	if r.day, err = time.Parse(time.DateOnly, s.Day); err != nil {
		return r, fmt.Errorf("judge again: the day of the session: %w", err)
	}
	var papers, people []uuid.UUID
	for _, p := range r.everybody() {
		people = append(people, p.PersonID)
		for _, id := range p.Papers {
			x, err := uuid.Parse(id)
			if err != nil {
				return r, fmt.Errorf("judge again: the id of a paper: %w", err)
			}
			papers = append(papers, x)
		}
	}
	if r.papers, err = dayview.ReadPapers(ctx, tx, papers); err != nil {
		return r, err
	}
	if r.people, err = dayview.ReadPeople(ctx, tx, people, r.day); err != nil {
		return r, err
	}
	var editions []ratio.Edition
	for _, g := range s.Groups {
		for _, b := range g.Books {
			if e := (ratio.Edition{ID: b.ID, Version: b.Version}); !slices.Contains(editions, e) {
				editions = append(editions, e)
			}
		}
	}
	books, missing, err := dayview.ReadBooks(ctx, tx, editions)
	r.books = books
	for _, e := range missing {
		r.differs = append(r.differs, fmt.Sprintf("Rule book %s is not kept in edition %s.", e.ID, e.Version))
	}
	r.compareRecords()
	return r, err
}

func (r *recorded) everybody() []decision.Participant { return slices.Concat(r.Crew, r.Students) }

// compareRecords notes which records are there no longer, and which were corrected since.
func (r *recorded) compareRecords() {
	for _, p := range r.everybody() {
		for _, id := range p.Papers {
			i := slices.IndexFunc(r.papers, func(x dayview.RecordedPaper) bool { return x.ID == id })
			switch {
			case i < 0 || r.papers[i].PersonID != p.PersonID:
				r.differs = append(r.differs, fmt.Sprintf("Paper %s of person %s is there no longer.", id, p.PersonID))
			case r.papers[i].VoidedAt != nil:
				r.since = append(r.since, fmt.Sprintf("Paper %s was voided on %s.", id,
					r.papers[i].VoidedAt.UTC().Format(time.DateOnly)))
			}
		}
		now, there := r.people[p.PersonID]
		switch {
		case !there:
			r.differs = append(r.differs, fmt.Sprintf("Person %s is there no longer.", p.PersonID))
		case p.Age != nil && now.Age != *p.Age:
			r.since = append(r.since, fmt.Sprintf(
				"The birth date of person %s was corrected: the decision was judged by %d years on %s, now they are %d.",
				p.PersonID, *p.Age, r.Day, now.Age))
		}
	}
}

// judgePersons judges the persons whom the decision was about.
func (r *recorded) judgePersons() finding.List {
	if r.Demands == nil {
		return nil
	}
	var out finding.List
	session := Session{Kind: r.Setting, OnDay: r.day, State: Planned}
	if r.Stage == decision.Opening {
		session.State = UnderWay
	}
	for _, p := range r.everybody() {
		if p.Judged == nil {
			continue
		}
		who := r.personThen(p)
		out = append(out, judgePerson(r.Demands.Roster(), who, session, Role(p.Role))...)
		want := roster.Booking{Session: r.id.String(), Span: roster.Span{From: r.From, To: r.To}}
		var booked []roster.Booking
		for _, b := range p.Judged.Booked {
			booked = append(booked, roster.Booking{Session: b.SessionID.String(),
				Span: roster.Span{From: b.From, To: b.To}})
		}
		out = append(out, roster.Clashes(who.Person, want, booked)...)
		if e := p.Judged.Enrolment; e != nil && p.EnrolmentID != nil {
			out = append(out, judgeEnrolment(enrolled{ID: *p.EnrolmentID}, *e)...)
		}
	}
	return out
}

// personThen returns a person as they were judged.
func (r *recorded) personThen(p decision.Participant) person {
	who := person{Person: roster.Person{ID: p.PersonID.String(), Name: r.people[p.PersonID].Name},
		Roles: p.Judged.Roles}
	if p.Age != nil {
		who.Age = *p.Age
	}
	if p.Unfit != nil {
		who.Unfit = *p.Unfit
	}
	for _, x := range r.papers {
		if x.PersonID == p.PersonID && slices.Contains(p.Papers, x.ID) {
			who.Papers = append(who.Papers, x.Paper)
		}
	}
	return who
}

// judgeGroups judges the ratio of the groups, and returns what counted for the decision.
func (r *recorded) judgeGroups() finding.List {
	var all, binding finding.List
	for _, g := range r.Groups {
		v := ratio.Judge(r.booksOf(g), r.groupThen(g))
		if v.Places != g.Places {
			r.differs = append(r.differs, fmt.Sprintf("Group %s had %d places, and has %d when judged again.",
				g.GroupID, g.Places, v.Places))
		}
		all = append(all, v.Findings...)
		if !v.Findings.Forbids() || g.Before.Worse(len(g.Ages), v.Places) || r.joinsInWater(g.GroupID) {
			binding = append(binding, v.Findings...)
		}
	}
	switch {
	case r.kind != "open_session":
		return binding
	case r.Setting == ratio.Theory:
		return nil
	}
	return append(all.Only(finding.Forbidden), all.Of(ratio.LeaderNotDiving)...)
}

// joinsInWater reports whether the decision brought a student into a group of a session
// under way.
func (r *recorded) joinsInWater(group uuid.UUID) bool {
	return r.Stage == decision.Opening && r.Setting != ratio.Theory &&
		slices.ContainsFunc(r.Students, func(p decision.Participant) bool {
			return p.GroupID != nil && *p.GroupID == group && p.Judged != nil && p.Judged.Enrolment != nil
		})
}

// booksOf returns the books that a group was judged by, in their order.
func (r *recorded) booksOf(g decision.Group) (out []ratio.Book) {
	for _, e := range g.Books {
		for _, b := range r.books {
			if b.ID == e.ID && b.Version == e.Version {
				out = append(out, b)
			}
		}
	}
	return out
}

// groupThen returns a group as it was judged.
func (r *recorded) groupThen(g decision.Group) ratio.Group {
	out := ratio.Group{Setting: g.Setting, Level: g.Level, Ages: g.Ages, Assistants: g.Assistants,
		Uncounted: g.Uncounted, NotDiving: g.NotDiving, Instructor: g.Instructor, Ashore: g.Ashore,
		LoweredTo: g.LoweredTo, Subject: finding.Subject{Type: "group", ID: g.GroupID.String()}}
	c := r.Conditions
	if c.Visibility != nil {
		out.Conditions.Visibility = new(c.Visibility.Depth())
	}
	if c.Current != nil {
		out.Conditions.Current = new(c.Current.Speed())
	}
	if c.Temperature != nil {
		out.Conditions.Temperature = new(c.Temperature.Temperature())
	}
	if r.SiteDepth != nil {
		out.Bottom = new(r.SiteDepth.Depth())
	}
	return out
}

// judgeSchedule judges the site, and the order of the course's sessions.
func (r *recorded) judgeSchedule() finding.List {
	s := r.Schedule
	if s == nil {
		return nil
	}
	this := roster.Appointment{ID: r.id.String(), Kind: string(r.Setting), Dives: s.Dives,
		Span: roster.Span{From: r.From, To: r.To}}
	var others []roster.Appointment
	for _, o := range s.Beside {
		others = append(others, roster.Appointment{ID: o.SessionID.String(), Kind: string(o.Setting),
			Dives: o.Dives, Span: roster.Span{From: o.From, To: o.To}})
	}
	return append(roster.Site(string(r.Setting), s.Water,
		finding.Subject{Type: "session", ID: this.ID}), roster.Order(this, others)...)
}
