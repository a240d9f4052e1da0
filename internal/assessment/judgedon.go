package assessment

import (
	"tankside/internal/actor"
	"tankside/internal/decision"
	"tankside/internal/ledger"
	"tankside/internal/standing"
	"tankside/internal/syllabus"
)

// judgedOn returns what a sign-off was judged on; body is what the ledger keeps of it.
func (o signed) judgedOn(body signOffBody) decision.JudgedOn {
	on := decision.SignOff{SignOffID: o.ID, Skill: o.Skill, Round: o.round, SessionID: body.Session,
		Setting: o.on.Session.Setting, SessionState: o.on.Session.State, WitnessedOn: o.on.On,
		SignedOn: o.on.SignedOn, TrainingDive: o.on.Dive, Absent: o.on.Absent, FromWater: o.fromWater(),
		SyllabusID: body.Syllabus, SyllabusNumber: body.Number,
		Attempts: append([]string{}, o.on.Evidence...), RestsOn: o.restsOn,
		Evidence: keptEvidence(body.Evidence), Standing: o.standing,
		Signer: decision.Signer{PersonID: body.SignedBy, Instructor: o.on.Signer.Instructor,
			Manager: o.on.Signer.Manager, Crew: o.on.Signer.Crew, Witnessed: o.on.Signer.Witnessed,
			Papers: keptPapers(body.Papers)}}
	return decision.JudgedOn{SignOff: &on}.Stamped()
}

// judgedOn returns what a completion was judged on.
func (b completionBody) judgedOn(key decision.Completion, c syllabus.CompletionRequest) decision.JudgedOn {
	key.Round, key.On, key.Age = b.Round, c.On, c.Age
	key.SyllabusID, key.SyllabusNumber, key.RestsOn = b.Syllabus, b.Number, b.RestsOn
	key.Evidence, key.Standing = keptEvidence(b.Evidence), decision.StandingOf(c.Standing)
	key.Signer = decision.Signer{PersonID: b.SignedBy, Instructor: c.Signer.Instructor,
		Manager: c.Signer.Manager, Papers: keptPapers(b.Papers)}
	return decision.JudgedOn{Completion: &key}.Stamped()
}

// voidJudgedOn returns what the voiding of a sign-off was judged on.
func voidJudgedOn(by actor.Actor, o SignedOff, e *standing.Enrolment) decision.JudgedOn {
	on := decision.Void{SignOffID: o.ID, Skill: o.Skill, SignedBy: o.SignedBy, SyllabusID: e.SyllabusID,
		SyllabusNumber: e.SyllabusNo, Standing: decision.StandingOf(*e.Standing),
		By: decision.Signer{PersonID: by.Person, Instructor: by.Is(actor.Instructor),
			Manager: by.Is(actor.Manager), Papers: []decision.Paper{}}}
	return decision.JudgedOn{Void: &on}.Stamped()
}

func keptEvidence(list []ledger.Evidence) []decision.Evidence {
	out := make([]decision.Evidence, len(list))
	for i, e := range list {
		out[i] = decision.Evidence{Type: e.Type, ID: e.ID, Digest: e.Digest.String()}
	}
	return out
}

func keptPapers(list []paperRow) []decision.Paper {
	out := make([]decision.Paper, len(list))
	for i, p := range list {
		out[i] = decision.Paper{ID: p.ID, Kind: p.Kind, IssuedOn: standing.DayOf(p.IssuedOn)}
		if p.ValidUntil != nil {
			out[i].ValidUntil = new(standing.DayOf(*p.ValidUntil))
		}
	}
	return out
}
