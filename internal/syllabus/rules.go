package syllabus

import "tankside/internal/finding"

// Where the rules come from. "Read" means that the source was read; a figure
// from memory says so.
const (
	ours     = "our choice"
	practice = "common practice of entry-level training: instructor manuals of several training organisations (read)"
	register = "our choice: a record that must stand up later"
	assess   = "an assistant may not assess a student: Québec, regulation on recreational diving, r. 8 s. 3.1 (read)"
	papers   = "teaching status renewed yearly (Québec, regulation r. 8, read); first aid and CPR within 24 months, insured (instructor manuals, read)"
	firstIn  = "a skill is met in confined water before it is tried in open water: common practice (read)"
	swim     = "watermanship before the first open-water dive: common practice (read widely)"
)

// The rules on attempts.
var (
	AttemptRole           = rule("attempt_role", "Role of a drill", "An attempt at a drill for two names the role that the student had.", practice)
	AttemptWrongUnit      = rule("attempt_wrong_unit", "Measured in another kind of unit", "A measured value can be compared with its criterion: seconds with seconds, metres with metres.", ours)
	AttemptBelowCriterion = rule("attempt_below_criterion", "Measured values fail the criterion", "An attempt whose measured values fail the criterion does not count as met, whatever its witness says. A witness may say \"not yet\" of values that would do.", practice)
	AttemptNotMeasured    = note("attempt_not_measured", "Measure not recorded", "A measure of the criterion was not recorded. Where the skill asks for measured proof, the attempt does not count.", ours)
	AttemptUnknownMeasure = note("attempt_unknown_measure", "Measure that the criterion does not have", "A value was recorded that the criterion has no use for.", ours)
)

// The rules on signing off and voiding.
var (
	UnknownSkill        = rule("unknown_skill", "Skill not in the syllabus", "Only skills of the syllabus version that the course runs on are signed off.", ours)
	AlreadySigned       = rule("already_signed", "Signed off already", "A skill has one standing sign-off for each enrolment.", register)
	EnrolmentNotActive  = rule("enrolment_not_active", "Enrolment not active", "Only an active enrolment is taught, signed off and completed.", ours)
	SignerIsProgram     = rule("signer_is_program", "Programs never sign", "A sign-off, its voiding and a completion are a person's own act, with that person's own token.", register)
	SignerNotInstructor = rule("signer_not_instructor", "Signer is no instructor", "Only an instructor assesses a student and signs.", assess)
	SignerNotCrew       = rule("signer_not_crew", "Signer was not crew", "The signer was crew of the session, with the student's group.", register)
	SignerNotWitness    = rule("signer_not_witness", "Signer did not witness it", "The signer saw the skill done. What assistants entered supports a sign-off.", practice)
	SignerPapers        = rule("signer_papers", "Signer's papers not valid that day", "The signer held each paper that the syllabus asks for, valid on the day of the session: teaching status, first aid, insurance.", papers)
	SessionNotHeld      = rule("session_not_held", "Session not held", "A skill is signed off from a session that is under way, closed, or abandoned after it began.", ours)
	WrongSetting        = rule("wrong_setting", "Wrong setting", "A confined-water skill is signed off in confined water, an open-water skill in open water.", firstIn)
	UnknownDive         = rule("unknown_dive", "No such training dive", "A training dive is one of those that the syllabus numbers.", ours)
	DiveNotNamed        = rule("dive_not_named", "Training dive not named", "A skill that may only be tried from a later training dive on is signed off with the number of the dive.", ours)
	TooEarlyDive        = rule("too_early_dive", "Too early a training dive", "A skill is not tried before the training dive that the syllabus sets: an emergency ascent not on the first open-water dive.", "an independent emergency ascent is not made on the first open-water dive: one instructor manual (read)")
	PrerequisiteOpen    = rule("prerequisite_open", "Prerequisite open", "What comes before a skill stands, signed off or credited.", practice)
	ConfinedFirst       = rule("confined_first", "Confined water first", "A skill is met in confined water before it is tried in open water.", firstIn)
	WatermanshipFirst   = rule("watermanship_first", "Watermanship first", "Swimming and staying afloat are met before the first open-water dive.", swim)
	OutOfOrder          = rule("out_of_order", "Done in the wrong order", "What comes before a skill was witnessed no later than the skill was tried.", firstIn)
	NoEvidence          = rule("no_evidence", "No evidence", "Where the skill asks for it, a sign-off rests on a recorded attempt that met the criterion, in each role that the skill has.", register)
	EvidenceUnfit       = rule("evidence_unfit", "Evidence does not count", "Evidence is an attempt at this skill by this student, in the right setting, met, and not voided.", register)
	EvidenceTooOld      = rule("evidence_too_old", "Evidence too old", "Evidence is no older than the syllabus allows.", "our choice: a year, after which a skill is shown again")
	VoidByOther         = rule("void_by_other", "Not theirs to void", "A sign-off is voided by its signer, or by a manager who is an instructor.", ours)
	VoidWithoutReason   = rule("void_without_reason", "Reason missing", "What was witnessed is voided only with a reason.", register)
	VoidedAlready       = rule("voided_already", "Voided already", "A sign-off is voided once.", ours)
	VoidTouches         = note("void_touches", "Others rest on it", "What rested on a voided sign-off stands, flagged, and blocks completion.", register)
)

// Rules lists every rule of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{
		AttemptRole, AttemptWrongUnit, AttemptBelowCriterion, AttemptNotMeasured, AttemptUnknownMeasure,
		UnknownSkill, AlreadySigned, EnrolmentNotActive, SignerIsProgram, SignerNotInstructor, SignerNotCrew,
		SignerNotWitness, SignerPapers, SessionNotHeld, WrongSetting, UnknownDive, DiveNotNamed, TooEarlyDive,
		PrerequisiteOpen, ConfinedFirst, WatermanshipFirst, OutOfOrder, NoEvidence, EvidenceUnfit, EvidenceTooOld,
		VoidByOther, VoidWithoutReason, VoidedAlready, VoidTouches,
	}
}

func rule(id, title, text, source string) finding.Rule {
	return finding.Rule{ID: "syllabus." + id, Title: title, Text: text, Source: source, Severity: finding.Forbidden}
}

func caution(id, title, text, source string) finding.Rule {
	r := rule(id, title, text, source)
	r.Severity = finding.Caution
	return r
}

func note(id, title, text, source string) finding.Rule {
	r := rule(id, title, text, source)
	r.Severity = finding.Note
	return r
}
