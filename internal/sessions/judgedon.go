package sessions

import (
	"github.com/google/uuid"
	"tankside/internal/finding"

	"tankside/internal/decision"
	"tankside/internal/ratio"
	"tankside/internal/readiness"
	"tankside/internal/roster"
)

// personsJudged is what persons were judged on beside papers and fitness, by person.
type personsJudged map[uuid.UUID]decision.Judged

// judged is what was judged of a session before its groups are: what was found, of
// whom, and the time and site where they are new.
type judged struct {
	found    finding.List
	persons  personsJudged
	schedule *decision.Schedule
}

// judgedOnOf returns what a session is judged on of which nobody is judged.
func judgedOnOf(s Session, l ratio.Level) decision.Session {
	return decision.Session{CourseID: s.CourseID, Setting: s.Kind, Level: l, Day: s.Day(), From: s.StartsAt,
		To: s.EndsAt, SiteID: s.SiteID,
		Stage: decision.Planning,
		Conditions: decision.Conditions{Visibility: s.Visibility,
			Current:     s.Current,
			Temperature: s.Temperature},
		Crew: []decision.Participant{}, Students: []decision.Participant{}, Groups: []decision.Group{}}
}

// judgedOn returns what a session was judged on, with the persons that the decision was
// about.
func (j judgement) judgedOn(stage decision.Stage, persons personsJudged) decision.Session {
	v := j.snapshot
	out := judgedOnOf(v.Session, v.Course.Level)
	d := v.Centre.Demands(v.OnDay)
	out.Stage, out.SiteDepth, out.Groups = stage, v.Site.MaxDepth, j.groups
	out.Demands = &decision.Demands{CrewPapers: d.CrewPapers, StudentPapers: d.StudentPapers,
		MedicalSince: d.MedicalSince, Majority: d.Majority}
	for _, p := range v.Participants {
		who := v.People[p.PersonID]
		one := decision.Participant{ParticipantID: p.ID, PersonID: p.PersonID, EnrolmentID: p.EnrolmentID,
			Role: string(p.Role), GroupID: p.GroupID, Counted: p.Counted, NotDiving: p.NotDiving,
			Unfit: new(who.Unfit)}
		if about, ok := persons[p.PersonID]; ok {
			one.Judged = &about
		}
		if p.Role == Student {
			one.Age, one.Papers = &who.Age, roster.PapersOf(who.Person, roster.StudentKinds(d))
			out.Students = append(out.Students, one)
			continue
		}
		one.Papers = roster.PapersOf(who.Person, roster.CrewKinds(d))
		out.Crew = append(out.Crew, one)
	}
	return out
}

// stageOf returns how near the water a decision about a session is.
func stageOf(s Session) decision.Stage {
	if s.State == UnderWay {
		return decision.Opening
	}
	return decision.Planning
}

// setToldBy notes what told everybody who is to dive their low-gas pressure.
func setToldBy(s decision.Session, told map[uuid.UUID]readiness.ToldBy) {
	for _, list := range [][]decision.Participant{s.Crew, s.Students} {
		for i, p := range list {
			if by, ok := told[p.ParticipantID]; ok {
				list[i].ToldBy = &decision.ToldBy{DiveID: by.Dive, PlanID: by.Plan, BriefingID: by.Briefing}
			}
		}
	}
}

// groupJudgedOn returns what a group was judged on and what came out, beside how it
// stood before.
func groupJudgedOn(g Group, c ratio.Group, v ratio.Verdict) decision.Group {
	out := decision.Group{GroupID: g.ID, Setting: c.Setting, Level: c.Level,
		Ages: append([]int{}, c.Ages...), Assistants: c.Assistants, Uncounted: c.Uncounted,
		Instructor: c.Instructor, NotDiving: c.NotDiving, Ashore: c.Ashore, LoweredTo: c.LoweredTo,
		Places: v.Places, Book: v.Book, Books: []decision.Edition{},
		Before: decision.GroupBefore{Students: g.Students, Places: g.Places, Cleared: g.Cleared}}
	for _, e := range v.Editions() {
		out.Books = append(out.Books, decision.Edition{ID: e.ID, Version: e.Version})
	}
	return out
}
