package training

import (
	"fmt"

	"tankside/internal/finding"
)

// The rules that findings of this package itself come from; signal and syllabus
// have theirs.
var (
	NotUnderWay = finding.Rule{ID: "training.session_not_under_way", Severity: finding.Caution,
		Title:  "What was witnessed belongs to a session under way",
		Text:   "An entry from a session that was not under way when it was recorded is kept, and pointed out: the session may have been opened or closed late, or not at all.",
		Source: "our choice"}
	NotThere = finding.Rule{ID: "training.not_there", Severity: finding.Caution,
		Title:  "Who took part was there",
		Text:   "An entry about somebody whom roll call has as absent, sitting out or gone is kept, and pointed out: one of the two is wrong.",
		Source: "our choice"}
	GroupNotCleared = finding.Rule{ID: "training.group_not_cleared", Severity: finding.Forbidden,
		Title:  "A group that is not cleared does not dive",
		Text:   "A time in is never refused. For somebody whose group is over its ratio it says: end the dive, as the instructor in charge decides.",
		Source: "our choice"}
	NoGroup = finding.Rule{ID: "training.no_group", Severity: finding.Forbidden,
		Title:  "Everybody in the water belongs to a group",
		Text:   "A time in is never refused. For a student in no group it says so.",
		Source: "ratios are per group: training organisations' manuals (seen)"}
	InAlready = finding.Rule{ID: "training.in_already", Severity: finding.Caution,
		Title:  "One time in, one time out",
		Text:   "A second time in of the same person on the same dive is kept, and pointed out: void the one that is wrong.",
		Source: "our choice"}
	TeamSize = finding.Rule{ID: "training.team_size", Severity: finding.Caution,
		Title:  "A buddy team is two or three",
		Text:   "A team of one, or of more than three, is pointed out.",
		Source: "common practice"}
	EndPressure = finding.Rule{ID: "training.end_pressure", Severity: finding.Caution,
		Title:  "A dive ends with 50 bar",
		Text:   "A dive that ended with less than 50 bar (700 psi) is pointed out, so that the next plan is better.",
		Source: "end with 50 bar, 500 to 700 psi: training organisations' manuals (seen)"}
	OutBeforeIn = finding.Rule{ID: "training.out_before_in", Severity: finding.Caution,
		Title:  "A dive ends after it began",
		Text:   "A time out that is not after the time in is kept, and pointed out: one of the two clocks was wrong.",
		Source: "our choice"}
	BelowPassMark = finding.Rule{ID: "training.below_pass_mark", Severity: finding.Note,
		Title:  "A theory part is passed at its mark",
		Text:   "A result below the pass mark of its part is kept; the student tries again.",
		Source: "the syllabus"}
)

// Rules lists the rules of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{NotUnderWay, NotThere, GroupNotCleared, NoGroup, InAlready, TeamSize, EndPressure, OutBeforeIn, BelowPassMark}
}

// notHeld points out an entry of a session that is not under way, or about
// somebody who was not there.
func (st stage) notHeld(p part) finding.List {
	var out finding.List
	who := finding.Subject{Type: "participant", ID: p.ID.String()}
	if st.session.State != "under_way" {
		f := NotUnderWay.Of(fmt.Sprintf("The session is %s, not under way.", st.session.State), finding.Subject{Type: "session", ID: st.session.ID.String()})
		f.Found = finding.Words(string(st.session.State))
		out = append(out, f)
	}
	switch p.Attendance {
	case "absent", "sat_out", "left_early":
		f := NotThere.Of(fmt.Sprintf("Roll call has %s as %s.", p.Name, p.Attendance), who)
		f.Found = finding.Words(p.Attendance)
		f.Cures = []finding.Cure{{Code: "call_roll", Message: "Call the roll again if the person was there, or void the entry that is wrong."}}
		out = append(out, f)
	}
	return out
}
