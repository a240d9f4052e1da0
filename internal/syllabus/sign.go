package syllabus

import (
	"fmt"
	"slices"

	"tankside/internal/finding"
)

// SessionState is the state of a session.
type SessionState string

// The states of a session. Skills are signed off from a session once it is under way. What was
// witnessed before it was abandoned counts too.
const (
	Planned   SessionState = "planned"
	UnderWay  SessionState = "under_way"
	Closed    SessionState = "closed"
	Cancelled SessionState = "cancelled"
	Abandoned SessionState = "abandoned"
)

// Session is the session in which a skill was witnessed.
type Session struct {
	ID      string
	Setting Setting
	State   SessionState
}

// SignOffRequest is a request to sign off one skill of one student.
type SignOffRequest struct {
	Syllabus Syllabus
	Skill    string
	Standing Standing
	Signer   Signer
	Session  Session
	On       Day      // the day of the session, in its zone; papers and order are judged on it
	SignedOn Day      // the day of signing; empty for the day of the session
	Absent   bool     // the student took no part in the session
	Dive     int      // the training dive on which it was witnessed, 0 for none
	Evidence []string // ids of attempts in Standing; the function Evidence finds them

	// OneOfSeveral allows another sign-off of the skill beside this one: two who sign without
	// coverage cannot know of each other.
	OneOfSeveral bool
}

// MaySign returns the findings on signing off the skill; a forbidden one refuses it. The clauses,
// each judged independently of the others:
//
//   - the skill is of the syllabus, and not signed off already;
//   - the enrolment is active;
//   - the student took part in the session;
//   - the signer is a person and an instructor, was crew of that session and
//     witnessed it, on papers valid that day;
//   - the session is or was under way, in the skill's setting, and on a training
//     dive on which the skill may be tried;
//   - everything that comes before stands, as witnessed by that day;
//   - the evidence meets the criterion;
//   - attempts not met since it was met last are a caution, which the signer accepts.
func MaySign(c SignOffRequest) finding.List {
	k := c.Syllabus.Skill(c.Skill)
	if k == nil {
		return finding.List{UnknownSkill.Say(`The syllabus "{syllabus}" has no skill "{skill}".`,
			c.Syllabus.Title, c.Skill).About(c.subjects()...)}
	}
	return slices.Concat(
		c.alreadySigned(k),
		c.enrolment(),
		c.tookPart(k),
		c.Signer.notStudent(c.Standing),
		c.Signer.mayDecide(c.Syllabus.SignerPapers, c.On),
		c.witness(k),
		c.session(k),
		c.dive(k),
		c.order(k),
		c.evidence(k),
		c.failures(k),
	)
}

func (c SignOffRequest) subjects() []finding.Subject {
	return []finding.Subject{{Type: "skill", ID: c.Skill}, {Type: "enrolment", ID: c.Standing.Enrolment}}
}

func (c SignOffRequest) alreadySigned(k *Skill) finding.List {
	x := c.Standing.signOff(k.Code)
	if x == nil || c.OneOfSeveral {
		return nil
	}
	f := AlreadySigned.Say("{skill} is signed off already, as witnessed on {on}.", k.name(), x.On).
		About(append(c.subjects(), finding.Subject{Type: "sign_off", ID: x.ID})...)
	f.Cures = []finding.Cure{{Code: "void_first",
		Message: "If that sign-off is wrong, void it with a reason and sign again."}}
	return finding.List{f}
}

func (c SignOffRequest) enrolment() finding.List { return c.Standing.mustBeActive() }

func (st Standing) mustBeActive() finding.List {
	if st.State == Active {
		return nil
	}
	f := EnrolmentNotActive.Say("The enrolment is {state}: only an active one is taught.", st.State).
		About(finding.Subject{Type: "enrolment", ID: st.Enrolment})
	f.Found = finding.Words(string(st.State))
	f.Cures = []finding.Cure{{Code: "activate_enrolment", Message: "Make the enrolment active first."}}
	return finding.List{f}
}

// tookPart returns a finding unless the student took part in the session.
func (c SignOffRequest) tookPart(k *Skill) finding.List {
	if !c.Absent {
		return nil
	}
	f := StudentNotThere.Say("The student took no part in that session, so {skill} was not shown there.",
		k.name()).About(append(c.subjects(), finding.Subject{Type: "session", ID: c.Session.ID})...)
	f.Cures = []finding.Cure{
		{Code: "other_session", Message: "Sign it off from the session in which it was witnessed."},
		{Code: "call_roll", Message: "Call the roll again, if the student was there."},
	}
	return finding.List{f}
}

// witness returns findings unless the signer is a person who was crew of the session and saw the
// skill there, by their own word or by an attempt that they witnessed.
func (c SignOffRequest) witness(k *Skill) finding.List {
	if c.Signer.Program {
		return nil
	}
	var out finding.List
	who := append(c.subjects(), c.Signer.subject(), finding.Subject{Type: "session", ID: c.Session.ID})
	if !c.Signer.Crew {
		out = append(out, SignerNotCrew.Of("The signer was not crew of that session.", who...))
	}
	saw := func(id string) bool {
		a := c.Standing.attempt(id)
		return a != nil && a.Skill == k.Code && !a.Voided && a.WitnessedBy == c.Signer.Person
	}
	if !c.Signer.Witnessed && !slices.ContainsFunc(c.Evidence, saw) {
		out = append(out,
			SignerNotWitness.Say(
				"The signer did not witness {skill}: what others entered supports a sign-off, it does not replace the signer's own eyes.",
				k.name()).About(who...))
	}
	for i := range out {
		out[i].Cures = []finding.Cure{{Code: "other_signer",
			Message: "Let the instructor sign who witnessed it."}}
	}
	return out
}

func (c SignOffRequest) session(k *Skill) finding.List {
	var out finding.List
	who := append(c.subjects(), finding.Subject{Type: "session", ID: c.Session.ID})
	if !slices.Contains([]SessionState{UnderWay, Closed, Abandoned}, c.Session.State) {
		f := SessionNotHeld.Say("The session is {state}: nothing was witnessed in it.", c.Session.State).
			About(who...)
		f.Found = finding.Words(string(c.Session.State))
		f.Cures = []finding.Cure{{Code: "open_session",
			Message: "Open the session, and sign once it is under way."}}
		out = append(out, f)
	}
	if k.Setting != Theory && c.Session.Setting != k.Setting {
		f := WrongSetting.Say("{skill} is a skill for {setting}; the session is one for {session}.",
			k.name(), k.Setting.words(), c.Session.Setting.words()).About(who...)
		f.Limit, f.Found = finding.Words(string(k.Setting)), finding.Words(string(c.Session.Setting))
		f.Cures = []finding.Cure{{Code: "other_session",
			Message: fmt.Sprintf("Sign it off from the session in %s in which it was witnessed.",
				k.Setting.words())}}
		out = append(out, f)
	}
	return out
}

func (s Setting) words() string {
	switch s {
	case Theory:
		return "the classroom"
	case Confined:
		return "confined water"
	case Open:
		return "open water"
	}
	return fmt.Sprintf("%q", string(s))
}

// dive returns a finding unless the training dive is one of the syllabus and not too early for the
// skill. A dive must be named where the skill has an earliest dive.
func (c SignOffRequest) dive(k *Skill) finding.List {
	var f finding.Finding
	switch {
	case c.Dive != 0 && c.Syllabus.Dive(c.Dive) == nil:
		f = UnknownDive.Say("The syllabus has no training dive {dive}.", c.Dive).About(c.subjects()...)
	case k.EarliestDive == 0 || c.Dive >= k.EarliestDive:
		return nil
	case c.Dive == 0:
		f = DiveNotNamed.Say(
			"{skill} may be tried from training dive {earliest_dive} on; say on which one it was witnessed.",
			k.name(), k.EarliestDive).About(c.subjects()...)
		f.Cures = []finding.Cure{{Code: "name_dive", Message: "Give the number of the training dive."}}
	default:
		f = TooEarlyDive.Say(
			"{skill} may not be tried before training dive {earliest_dive}; it was witnessed on dive {dive}.",
			k.name(), k.EarliestDive, c.Dive).About(c.subjects()...)
		f.Limit, f.Found = finding.Count(k.EarliestDive, "training dive"), finding.Count(c.Dive,
			"training dive")
		f.Cures = []finding.Cure{{Code: "later_dive",
			Message: fmt.Sprintf("Let the student do it on training dive %d or later.", k.EarliestDive)}}
	}
	return finding.List{f}
}
