package syllabus

import "tankside/internal/finding"

// The sources of the rules. "Read" means that the source was read; a figure from memory is marked
// so.
const (
	ours     = "our choice"
	practice = "common practice of entry-level training: instructor manuals of several training " +
		"organisations (read)"
	register = "our choice: a record that must stand up later"
	assess   = "an assistant may not assess a student: Québec, regulation on recreational diving, r. 8 s. " +
		"3.1 (read)"
	papers = "teaching status renewed yearly (Québec, regulation r. 8, read); first aid and CPR within 24 " +
		"months, insured (instructor manuals, read)"
	firstIn = "a skill is met in confined water before it is tried in open water: common practice (read)"
	swim    = "watermanship before the first open-water dive: common practice (read widely)"
)

// The rules on attempts.
var (
	AttemptRole = rule("attempt_role", "Role of a drill",
		"An attempt at a drill for two names the role that the student had.", practice)
	AttemptWrongUnit = rule("attempt_wrong_unit", "Measured in another kind of unit",
		"A measured value can be compared with its criterion: seconds with seconds, metres with metres.",
		ours)
	AttemptBelowCriterion = rule("attempt_below_criterion", "Measured values fail the criterion",
		"An attempt whose measured values fail the criterion does not count as met, whatever its witness "+
			"says. A witness may say \"not yet\" of values that would do.", practice)
	AttemptNotMeasured = note("attempt_not_measured", "Measure not recorded",
		"A measure of the criterion was not recorded. Where the skill asks for measured proof, the attempt "+
			"does not count.", ours)
	AttemptUnknownMeasure = note("attempt_unknown_measure", "Measure that the criterion does not have",
		"A value was recorded that the criterion has no use for.", ours)
)

// The rules on signing off and voiding.
var (
	UnknownSkill = rule("unknown_skill", "Skill not in the syllabus",
		"Only skills of the syllabus version that the course runs on are signed off.", ours)
	AlreadySigned = rule("already_signed", "Signed off already",
		"A skill has one standing sign-off for each enrolment.", register)
	EnrolmentNotActive = rule("enrolment_not_active", "Enrolment not active",
		"Only an active enrolment is taught, signed off and completed.", ours)
	SignerIsProgram = rule("signer_is_program", "Programs never sign",
		"A sign-off, its voiding and a completion are a person's own act, with that person's own token.",
		register)
	SignerIsStudent = rule("signer_is_student", "Nobody signs for themselves",
		"A sign-off and a completion are another person's decision than the student's.", register)
	SignerNotInstructor = rule("signer_not_instructor", "Signer is no instructor",
		"Only an instructor assesses a student and signs.", assess)
	SignerNotCrew = rule("signer_not_crew", "Signer was not crew", "The signer was crew of the session.",
		register)
	SignerNotWitness = rule("signer_not_witness", "Signer did not witness it",
		"The signer saw the skill done. What assistants entered supports a sign-off.", practice)
	StudentNotThere = rule("student_not_there", "Student was not there",
		"A skill is signed off from a session in which the student took part: by plan or by roll call, and "+
			"neither absent nor sitting out.", register)
	SignerPapers = rule("signer_papers", "Signer's papers not valid that day",
		"The signer held each paper that the syllabus asks for, valid on the day of the session: teaching "+
			"status, first aid, insurance.", papers)
	SessionNotHeld = rule("session_not_held", "Session not held",
		"A skill is signed off from a session that is under way, closed, or abandoned after it began.", ours)
	WrongSetting = rule("wrong_setting", "Wrong setting",
		"A confined-water skill is signed off in confined water, an open-water skill in open water.", firstIn)
	UnknownDive = rule("unknown_dive", "No such training dive",
		"A training dive is one of those that the syllabus numbers.", ours)
	DiveNotNamed = rule("dive_not_named", "Training dive not named",
		"A skill that may only be tried from a later training dive on is signed off with the number of the "+
			"dive.", ours)
	TooEarlyDive = rule("too_early_dive", "Too early a training dive",
		"A skill is not tried before the training dive that the syllabus sets: an emergency ascent not on "+
			"the first open-water dive.",
		"an independent emergency ascent is not made on the first open-water dive: one instructor manual "+
			"(read)")
	PrerequisiteOpen = rule("prerequisite_open", "Prerequisite open",
		"What comes before a skill stands, signed off or credited.", practice)
	ConfinedFirst = rule("confined_first", "Confined water first",
		"A skill is met in confined water before it is tried in open water.", firstIn)
	WatermanshipFirst = rule("watermanship_first", "Watermanship first",
		"Swimming and staying afloat are met before the first open-water dive.", swim)
	OutOfOrder = rule("out_of_order", "Done in the wrong order",
		"What comes before a skill was witnessed no later than the skill was tried.", firstIn)
	NoEvidence = rule("no_evidence", "No evidence",
		"Where the skill asks for it, a sign-off rests on a recorded attempt that met the criterion, in "+
			"each role that the skill has.", register)
	EvidenceUnfit = rule("evidence_unfit", "Evidence does not count",
		"Evidence is an attempt at this skill by this student, in the right setting, met, and not voided.",
		register)
	EvidenceTooOld = rule("evidence_too_old", "Evidence too old",
		"Evidence is no older than the syllabus allows.",
		"our choice: a year, after which a skill is shown again")
	FailedSince = caution("failed_since", "Not met since",
		"Attempts that were not met, later than the last one that was met in the same role, speak against "+
			"signing off: the signer accepts them by name, with a reason. Where they were not known or not "+
			"accepted then, the person who completes the course accepts them.", register)
	VoidByOther = rule("void_by_other", "Not theirs to void",
		"A sign-off is voided by its signer, or by a manager who is an instructor.", ours)
	VoidWithoutReason = rule("void_without_reason", "Reason missing",
		"What was witnessed is voided only with a reason.", register)
	VoidedAlready = rule("voided_already", "Voided already", "A sign-off is voided once.", ours)
	VoidTouches   = note("void_touches", "Others rest on it",
		"What rested on a voided sign-off stands, flagged, and blocks completion.", register)
)

// The rules on entering the water and on dives that were done.
var (
	DivePrerequisite = rule("dive_prerequisite", "Not ready for the dive",
		"The theory and the confined-water skills that a training dive asks for stand before it.", firstIn)
	DiveOrder = rule("dive_order", "Training dives in order",
		"Training dives are done in the order of their numbers.", practice)
	TooManyDives = rule("too_many_dives", "Too many dives that day",
		"A student does no more open-water dives a day than the syllabus allows.",
		"at most 3 training dives a day: one instructor manual (read)")
	DepthOverLimit = rule("depth_over_limit", "Deeper than the limit",
		"A dive is planned within the limit of the training dive, of the student's age, and of the site.",
		"dives 1-2 to 12 m, the rest to 18 m, under 12s to 12 m: instructor manuals (read); confined water "+
			"to 5 m: one manual (read)")
	TooYoung = rule("too_young", "Too young", "A student has the least age of the syllabus.",
		"each organisation's own; 10 for junior grades: instructor manuals (read)")
	DiveIncomplete = rule("dive_incomplete", "Dive not fully recorded",
		"A dive counts once its duration and its greatest depth are on record.", register)
	DiveTooShort = rule("dive_too_short", "Dive too short",
		"A dive counts as a training dive from its least duration on.",
		"each training dive at least 15 min: one instructor manual, ISO 24801-1 (read)")
	DiveTooShallow = rule("dive_too_shallow", "Dive too shallow",
		"A dive counts as a training dive from its least depth on.", "5-18 m: one instructor manual (read)")
	DiveBeyondLimit = caution("dive_beyond_limit", "Dive went beyond its limit",
		"A dive that went deeper than its limit happened and counts; the person who completes the course "+
			"accepts it with a reason.", ours)
	DiveOutOfOrder = caution("dive_out_of_order", "Dive before what comes first",
		"A dive was done before something that comes first; the person who completes the course accepts it "+
			"with a reason.", ours)
)

// The rules on completion.
var (
	BasisGone = rule("basis_gone", "Rests on what does not stand",
		"What rests on something voided stands, flagged, and blocks completion.", register)
	SignedThoughAbsent = rule("signed_though_absent", "Signed off, and absent",
		"A sign-off that was made without coverage stands, whatever roll call says; where the two "+
			"contradict each other it is flagged, and blocks completion until a person settles it.", ours)
	SkillMissing = rule("skill_missing", "Skill missing",
		"Every skill is signed off or credited before completion.", practice)
	TheoryMissing = rule("theory_missing", "Theory missing",
		"Every part of the theory is passed or credited before completion.", practice)
	DiveMissing = rule("dive_missing", "Training dive missing",
		"Every training dive is done or credited before completion: at least 4 at entry level.",
		"at least 4 training dives: one instructor manual (read)")
	DiveTimeMissing = rule("dive_time_missing", "Too little dive time",
		"The training dives last as long in all as the syllabus asks.",
		"80 min in all: one instructor manual (read)")
	NotWitnessedHere = note("not_witnessed_here", "Not witnessed here",
		"What is credited from another centre was not witnessed here.", register)
	JuniorGrade = note("junior_grade", "Junior grade",
		"A student younger than the full age completes at a junior grade.",
		"10 for junior grades, full grade at 15: instructor manuals (read)")
)

// The rules on what a syllabus may be.
var (
	MissingText = rule("missing_text", "Text missing",
		"Everything has a title, and a syllabus has skills.", ours)
	BadCode = rule("bad_code", "Not a code",
		"Codes are short words of small letters, digits and hyphens.", ours)
	DuplicateCode = rule("duplicate_code", "Code used twice",
		"A code names one skill, theory part or measure.", ours)
	UnknownWord = rule("unknown_word", "Unknown word",
		"Levels, settings, roles, proofs and papers are of the known ones.", ours)
	BadFigure = rule("bad_figure", "Figure out of range",
		"Figures are possible and have their unit.", ours)
	UnknownPrerequisite = rule("unknown_prerequisite", "Unknown prerequisite",
		"What comes first is in the syllabus.", ours)
	PrerequisiteCycle = rule("prerequisite_cycle", "Comes before itself",
		"No skill comes before itself, directly or by way of others.", ours)
	ConfinedAfterOpen = rule("confined_after_open", "Confined water after open water",
		"No confined-water skill comes after an open-water skill.", firstIn)
	UntriedInConfined = rule("untried_in_confined", "Not tried in confined water",
		"An open-water skill that touches gas repeats a confined-water skill; a skill repeats only such a "+
			"one.", firstIn)
	MissingCriterion = rule("missing_criterion", "Criterion missing",
		"Every skill says what must be seen.", practice)
	BadMeasure = rule("bad_measure", "Measure without a limit",
		"A measure has a limit of a known unit that something can meet.", ours)
	DiveNumbers = rule("dive_numbers", "Numbers of training dives",
		"Training dives are numbered from 1, in order.", ours)
	DiveLimit = rule("dive_limit", "Training dive too deep",
		"A training dive goes no deeper than its level allows, nor than 12 m for those under 12.",
		"12 m supervised (ISO 24801-1, read), 20 m at entry level (ISO 24801-2 cl. 4, read), 12 m for "+
			"under 12s (instructor manuals, read), introductory 12 m and guided 40 m (common practice, "+
			"memory)")
	DiveOutOfReach = rule("dive_out_of_reach", "Dive comes after a skill of the same dive",
		"What comes before a training dive can be done before it.", ours)
	WatermanshipMissing = rule("watermanship_missing", "Watermanship missing",
		"An entry-level syllabus has watermanship skills, and they come before the first open-water dive.",
		swim)
	BelowPractice = caution("below_practice", "Less than common practice",
		"The syllabus asks for less than common practice; a named person accepts that.",
		"at least 4 dives of at least 15 min, 80 min in all, at most 3 a day; from 10 years on: instructor "+
			"manuals (read)")
)

// Rules returns every rule of this package, for people to read.
func Rules() []finding.Rule {
	return []finding.Rule{
		AttemptRole, AttemptWrongUnit, AttemptBelowCriterion, AttemptNotMeasured, AttemptUnknownMeasure,
		UnknownSkill, AlreadySigned, EnrolmentNotActive, SignerIsProgram, SignerIsStudent,
		SignerNotInstructor, SignerNotCrew, SignerNotWitness, StudentNotThere, SignerPapers, SessionNotHeld,
		WrongSetting, UnknownDive, DiveNotNamed, TooEarlyDive, PrerequisiteOpen, ConfinedFirst,
		WatermanshipFirst, OutOfOrder, NoEvidence, EvidenceUnfit, EvidenceTooOld, FailedSince, VoidByOther,
		VoidWithoutReason, VoidedAlready, VoidTouches, DivePrerequisite, DiveOrder, TooManyDives,
		DepthOverLimit, TooYoung, DiveIncomplete, DiveTooShort, DiveTooShallow, DiveBeyondLimit,
		DiveOutOfOrder, BasisGone, SignedThoughAbsent, SkillMissing, TheoryMissing, DiveMissing,
		DiveTimeMissing, NotWitnessedHere, JuniorGrade, MissingText, BadCode, DuplicateCode, UnknownWord,
		BadFigure, UnknownPrerequisite, PrerequisiteCycle, ConfinedAfterOpen, UntriedInConfined,
		MissingCriterion, BadMeasure, DiveNumbers, DiveLimit, DiveOutOfReach, WatermanshipMissing,
		BelowPractice,
	}
}

func rule(id, title, text, source string) finding.Rule {
	return finding.Rule{ID: "syllabus." + id, Title: title, Text: text, Source: source,
		Severity: finding.Forbidden}
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
