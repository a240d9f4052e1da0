package watercheck

import (
	"strings"
	"time"

	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/standing"
)

// The rules that findings of this package itself come from; signal and syllabus
// have theirs.
var (
	NotUnderWay = finding.Rule{ID: "training.session_not_under_way", Severity: finding.Caution,
		Title: "What was witnessed belongs to a session under way",
		Text: "An entry about a session that was not opened, or from after its end, is kept, and pointed " +
			"out: the session may have been opened late or not at all, or closed too early. What reaches " +
			"the service late, but was seen before the end, is not.",
		Source: "our choice"}
	AfterTheEnd = finding.Rule{ID: "training.out_after_end", Severity: finding.Note,
		Title: "Who is in the water when a session ends comes out afterwards",
		Text: "When a session is closed or broken off while a person is still in the water, what is seen of " +
			"them within the hour, their time out among it, is taken as it is. Nothing has to be voided " +
			"or opened again.",
		Source: "our choice"}
	OtherDay = finding.Rule{ID: "training.other_day", Severity: finding.Caution,
		Title: "What was witnessed happened on the session's day",
		Text: "An entry with a time on another day than the session's, and outside the session, is kept, " +
			"and pointed out: the clock of the device may be wrong, or the session is.",
		Source: "our choice"}
	NotThere = finding.Rule{ID: "training.not_there", Severity: finding.Caution,
		Title: "Who took part was there",
		Text: "An entry about a person whom roll call has as absent, sitting out or gone is kept, and " +
			"pointed out: one of the two is wrong.",
		Source: "our choice"}
	GroupNotCleared = finding.Rule{ID: "training.group_not_cleared", Severity: finding.Forbidden,
		Title: "A group that is not cleared does not dive",
		Text: "A time in is never refused. For a person whose group is over its ratio it says: end the " +
			"dive, as the instructor in charge decides.",
		Source: "our choice"}
	NoGroup = finding.Rule{ID: "training.no_group", Severity: finding.Forbidden,
		Title:  "Everybody in the water belongs to a group",
		Text:   "A time in is never refused. For a student in no group it says so.",
		Source: "ratios are per group: training organisations' manuals (seen)"}
	NotBriefed = finding.Rule{ID: "training.not_briefed", Severity: finding.Forbidden,
		Title: "Nobody gets into the water unbriefed",
		Text: "A time in is never refused. For a person who had not acknowledged a briefing by then it says " +
			"so. A briefing that was given without coverage may be entered later, with its own time.",
		Source: "common practice: the group is briefed, and agrees its signals, before the dive; the acknowledgement is our choice"}
	InAlready = finding.Rule{ID: "training.in_already", Severity: finding.Caution,
		Title: "One time in, one time out",
		Text: "A second time in of a person on the same dive, or while still in on another, is kept, and " +
			"pointed out: void the one that is wrong, or record the time out.",
		Source: "our choice"}
	OutAlready = finding.Rule{ID: "training.out_already", Severity: finding.Caution,
		Title: "One time in, one time out",
		Text: "A second time out for the same time in is kept, and pointed out: the later one counts until " +
			"one of them is voided.",
		Source: "our choice"}
	TeamSize = finding.Rule{ID: "training.team_size", Severity: finding.Caution,
		Title:  "A buddy team is two or three",
		Text:   "A team of one, or of more than three, is pointed out.",
		Source: "common practice"}
	EndPressure = finding.Rule{ID: "training.end_pressure", Severity: finding.Caution,
		Title:  "A dive ends with 50 bar",
		Text:   "A dive that ended with less than 50 bar (700 psi) is pointed out, so that the next plan is better.",
		Source: "end with 50 bar, 500 to 700 psi: training organisations' manuals (seen)"}
	EndAboveStart = finding.Rule{ID: "training.end_above_start", Severity: finding.Caution,
		Title: "A dive ends with less gas than it began with",
		Text: "An end pressure above the start pressure is kept, and pointed out: one of the two was " +
			"misread, or is another diver's.",
		Source: "our choice"}
	BeyondSite = finding.Rule{ID: "training.beyond_site", Severity: finding.Caution,
		Title: "A dive stays within the site's greatest depth",
		Text: "A greatest depth beyond the site's is kept, and pointed out: the depth was misread, or the " +
			"site is deeper than its record says.",
		Source: "the site's greatest depth"}
	BeyondBook = finding.Rule{ID: "training.beyond_book", Severity: finding.Caution,
		Title: "A student's dive stays within the depth of the centre's rule books",
		Text: "A greatest depth beyond what the strictest of the rule books that the centre applies allows " +
			"a student of that age, in such water and at such a level, is kept, and pointed out with the " +
			"book, its limit and the depth. A book sets no depth for crew.",
		Source: "the rule book that the finding names"}
	OutBeforeIn = finding.Rule{ID: "training.out_before_in", Severity: finding.Caution,
		Title:  "A dive ends after it began",
		Text:   "A time out that is not after the time in is kept, and pointed out: one of the two clocks was wrong.",
		Source: "our choice"}
	AboveRating = finding.Rule{ID: "training.above_rating", Severity: finding.Caution,
		Title: "A gauge shows no more than the cylinder holds",
		Text: "A reading above one and a half times the rating of the cylinder that the diver went in with " +
			"is refused when it is posted by itself. From a phone without coverage, and before the rating " +
			"is known, it is kept, and pointed out: the reading or the rating has another unit, or is " +
			"another diver's.",
		Source: "our choice"}
)

// Rules lists the rules of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{NotUnderWay, AfterTheEnd, OtherDay, NotThere, GroupNotCleared, NoGroup, NotBriefed,
		InAlready, OutAlready, TeamSize, EndPressure, EndAboveStart,
		BeyondSite, BeyondBook, OutBeforeIn, AboveRating}
}

// notHeld points out an entry from outside its session, or about somebody who
// was not there.
func (st Snapshot) notHeld(k journal.Kind, p Participant, at time.Time) finding.List {
	if found := st.surfacing(p, at); k != journal.TimeIn && len(found) > 0 {
		return append(found, p.notThere(at)...)
	}
	return append(st.outside(at), p.notThere(at)...)
}

// outside points out an entry from outside its session.
func (st Snapshot) outside(at time.Time) finding.List {
	var out finding.List
	s := st.Session
	subject := finding.Subject{Type: "session", ID: s.ID.String()}
	if f := notUnderWay(s, at); f != nil {
		f.Subjects = []finding.Subject{subject}
		f.Found = finding.Words(string(s.State))
		f.Cures = []finding.Cure{{Code: "check_session",
			Message: "Open the session if it is being held; void the entry if it belongs to another one."}}
		out = append(out, *f)
	}
	if day := s.DayOf(at); day != s.Day() && (at.Before(s.StartsAt) || at.After(s.EndsAt)) {
		f := OtherDay.Say("The session is on {on}; this was witnessed on {witnessed_on}.", s.Day(),
			day).About(subject)
		f.Limit, f.Found = finding.Words(string(s.Day())), finding.Words(string(day))
		f.Cures = []finding.Cure{{Code: "check_clock",
			Message: "Check the clock of the device; void the entry and record it again if it was wrong."}}
		out = append(out, f)
	}
	return out
}

// notUnderWay returns why something seen at a time was not seen in a session under
// way, nil when it may have been.
func notUnderWay(s standing.Session, at time.Time) *finding.Finding {
	switch {
	case s.State == "planned" || s.State == "cancelled":
		return new(NotUnderWay.Say("The session is {state}: it was never opened.", s.State))
	case s.EndedAt != nil && at.After(*s.EndedAt):
		return new(NotUnderWay.Say("The session was {state} at {ended_at}, before this was witnessed.", s.State,
			s.Clock(*s.EndedAt)))
	}
	return nil
}

// notThere points out an entry about somebody whom roll call does not have there.
func (p Participant) notThere(at time.Time) finding.List {
	switch p.Attendance {
	case "absent", "sat_out":
	case "left_early":
		if p.AttendanceAt == nil || !at.After(*p.AttendanceAt) {
			return nil
		}
	default:
		return nil
	}
	words := strings.ReplaceAll(p.Attendance, "_", " ")
	f := NotThere.Say("Roll call has {person} as {attendance}.", p.named(), words).About(p.subject())
	f.Found = finding.Words(words)
	f.Cures = []finding.Cure{{Code: "call_roll",
		Message: "Call the roll again if the person was there, or void the entry that is wrong."}}
	return finding.List{f}
}

func (p Participant) subject() finding.Subject {
	return finding.Subject{Type: "participant", ID: p.ID.String()}
}
