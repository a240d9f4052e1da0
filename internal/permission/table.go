package permission

// The cells of the table. All of them are three letters wide where they can be, so that columns align.
const (
	not      = None
	own      = Own
	assigned = Assigned
	all      = All
)

// Who may do the operations that several rows share.
const (
	aManager              = "a manager"
	aPlanner              = "a manager, an instructor or a program"
	planners              = "managers and instructors, and programs with the scope"
	reporters             = "the crew and managers, and programs with the scope"
	witnesses             = "the crew and managers, with their own tokens: a program witnesses nothing"
	signers               = "the crew and managers, with their own tokens; a program never signs"
	anInstructorOrManager = "an instructor or a manager"
	readers               = "the crew and managers; a student reads their own record and progress"
	ownForStudents        = "the crew, managers and programs; a student reads what is their own"
	plansAreFor           = "the crew and managers; a student is told their own figures in the briefing"
	participants          = "the crew and managers, and students who take part in the session"
	thoseBriefed          = "a person whom the briefing names; the crew enter what others said"
	theirTokens           = "a manager; others for their own tokens"
)

// table has a row for each operation of the contract, in its order. Where a person has several roles,
// the farthest reach counts. A role's largest scopes (internal/access) may keep it from an operation
// that its cell allows: then the cell counts for a person who has another role with the scope.
var table = []Row{
	// manager, instructor, assistant, student, program
	// Caller
	{own, own, own, own, own, "getMe", ""},
	{all, all, all, all, all, "listRules", ""},

	// Centre
	{all, all, all, all, all, "getCentre", ""},
	{all, not, not, not, not, "changeCentre", aManager},
	{all, not, not, not, not, "setClock", aManager},
	{all, all, all, all, all, "listRuleBooks", ""},

	// Tokens
	{all, own, own, own, not, "listTokens", theirTokens},
	{all, not, not, not, not, "createToken", aManager},
	{all, own, own, own, not, "getToken", theirTokens},
	{all, own, own, own, not, "revokeToken", theirTokens},

	// People
	{all, all, all, own, all, "listPeople", ownForStudents},
	{all, all, not, not, all, "createPerson", aPlanner},
	{all, all, not, not, all, "importPeople", aPlanner},
	{all, all, all, own, all, "getPerson", ownForStudents},
	{all, all, not, not, all, "changePerson", aPlanner},
	{all, all, all, own, not, "listCorrections", "the crew and managers, or the person"},
	{all, not, not, not, not, "giveRole", aManager},
	{all, not, not, not, not, "takeRole", aManager},
	{all, all, all, own, all, "listPapers", ownForStudents},
	{all, all, all, not, not, "recordPaper", "the crew and managers"},
	{all, all, all, own, all, "getPaper", ownForStudents},
	{all, all, not, not, not, "voidPaper", "a manager or an instructor"},
	{all, all, all, own, all, "listUnfitMarks", ownForStudents},
	{all, all, all, not, not, "recordUnfitMark", "the crew and managers"},
	{not, assigned, not, not, not, "liftUnfitMark", "an instructor"},

	// Sites
	{all, all, all, all, all, "listSites", ""},
	{all, all, not, not, all, "createSite", aPlanner},
	{all, all, all, all, all, "getSite", ""},
	{all, all, not, not, all, "changeSite", aPlanner},
	{all, not, not, not, not, "deleteSite", aManager},

	// Syllabuses
	{all, all, all, all, all, "listBuiltInSyllabuses", ""},
	{all, all, all, all, all, "listSyllabuses", ""},
	{all, all, not, not, all, "createSyllabus", aPlanner},
	{all, all, all, all, all, "getSyllabus", ""},
	{all, all, not, not, all, "renameSyllabus", aPlanner},
	{all, all, all, all, all, "listSyllabusVersions", ""},
	{all, all, not, not, all, "createSyllabusVersion", aPlanner},
	{all, all, all, all, all, "getSyllabusVersion", ""},

	// Courses
	{all, all, all, all, all, "listCourses", ""},
	{all, all, not, not, all, "createCourse", aPlanner},
	{all, all, all, all, all, "getCourse", ""},
	{all, all, not, not, all, "changeCourse", aPlanner},
	{all, all, not, not, all, "cancelCourse", aPlanner},
	{all, all, not, not, all, "closeCourse", aPlanner},

	// Enrolments
	{all, all, all, own, all, "listCourseEnrolments", ownForStudents},
	{all, all, not, not, all, "createEnrolment", aPlanner},
	{all, all, all, own, all, "listEnrolments", ownForStudents},
	{all, all, all, own, all, "getEnrolment", "the crew and managers; a student reads their own enrolment"},
	{all, all, not, not, all, "activateEnrolment", aPlanner},
	{all, all, not, not, all, "withdrawEnrolment", aPlanner},
	{all, all, not, not, not, "transferEnrolment", anInstructorOrManager},

	// Sessions
	{all, all, all, all, all, "listCourseSessions", ""},
	{all, all, not, not, all, "createSession", planners},
	{all, all, all, all, all, "listSessions", ""},
	{all, all, all, all, all, "getSession", ""},
	{all, all, not, not, all, "changeSession", planners},
	{all, all, not, not, all, "moveSession", planners},
	{all, all, not, not, all, "cancelSession", planners},
	{all, all, not, not, not, "openSession", anInstructorOrManager},
	{all, all, all, not, all, "closeSession", reporters},
	{all, all, all, not, all, "abandonSession", reporters},

	// Groups
	{all, all, all, assigned, all, "listGroups", participants},
	{all, all, not, not, all, "createGroup", planners},
	{all, all, all, assigned, all, "getGroup", participants},
	{all, all, not, not, all, "changeGroup", planners},
	{all, all, not, not, all, "deleteGroup", planners},
	{all, all, not, not, all, "replaceInstructor", planners},
	{all, all, all, assigned, all, "listParticipants", participants},
	{all, all, not, not, all, "createParticipant", planners},
	{all, all, all, assigned, all, "getParticipant", participants},
	{all, all, all, not, all, "changeParticipant", reporters},
	{all, all, not, not, all, "removeParticipant", planners},
	{all, all, not, not, all, "moveParticipants", planners},
	{all, all, not, not, all, "createPlacements", planners},

	// Sessions
	{all, all, all, own, all, "getReadiness", "the crew and managers; a student asks for themselves"},
	{all, all, all, own, all, "getDay", "the crew and managers; a student reads only their own day"},

	// On the day
	{all, all, all, not, not, "recordRollCalls", witnesses},
	{all, all, all, not, not, "recordConditions", witnesses},
	{all, all, all, not, all, "listEntries", reporters},
	{all, all, all, own, all, "getEntry", ownForStudents},
	{all, all, own, not, not, "voidEntry", "who witnessed or recorded it, an instructor or a manager"},

	// Outings
	{all, all, all, not, all, "listOutings", reporters},
	{all, all, not, not, all, "createOuting", planners},
	{all, all, all, not, all, "getOuting", reporters},
	{all, all, not, not, all, "changeOuting", planners},
	{all, all, all, not, all, "recordGuest", reporters},
	{all, all, all, not, all, "guestLeaves", reporters},
	{all, all, all, not, all, "listHeadCounts", reporters},
	{all, all, all, not, all, "recordHeadCount", reporters},
	{all, all, all, not, all, "listIncidents", reporters},
	{all, all, all, not, all, "recordIncident", reporters},
	{all, all, all, not, all, "listSessionIncidents", reporters},
	{all, all, all, not, all, "recordSessionIncident", reporters},

	// Training
	{all, all, all, not, all, "listDives", readers},
	{all, all, all, not, not, "recordTimesIn", witnesses},
	{all, all, all, not, not, "recordTimesOut", witnesses},
	{all, all, all, not, all, "listGasChecks", readers},
	{all, all, all, not, not, "recordGasChecks", witnesses},
	{all, all, all, not, all, "listDrillAttempts", readers},
	{all, all, all, not, not, "recordDrillAttempts", witnesses},
	{all, all, all, own, all, "listTheoryResults", ownForStudents},
	{all, all, all, not, not, "recordTheoryResult", witnesses},

	// Sign-offs
	{all, all, all, own, all, "listCredits", ownForStudents},
	{all, all, not, not, not, "recordCredit", anInstructorOrManager},
	{all, all, not, not, not, "voidCredit", anInstructorOrManager},
	{all, all, all, not, all, "listSessionSignOffs", readers},
	{all, all, all, not, not, "createSignOffs", signers},
	{all, all, all, own, all, "listDecisions", ownForStudents},
	{all, all, all, own, all, "getDecision", ownForStudents},
	{all, all, all, own, all, "listSignOffs", ownForStudents},
	{all, all, all, own, all, "getSignOff", ownForStudents},
	{all, own, own, not, not, "voidSignOff", "the signer, or a manager who is an instructor"},
	{all, all, all, own, all, "getProgress", ownForStudents},
	{all, all, all, not, all, "getCourseProgress", readers},
	{all, all, all, own, all, "listCompletions", ownForStudents},
	{all, all, all, not, not, "createCompletion", signers},
	{all, own, own, not, not, "voidCompletion", "the signer, or a manager who is an instructor"},
	{all, all, all, own, all, "getRecord", ownForStudents},

	// Gas plans
	{all, all, all, all, all, "calculateGasPlan", ""},
	{all, all, all, not, all, "listGasPlans", plansAreFor},
	{all, all, all, not, all, "createGasPlan", reporters},
	{all, all, all, not, all, "getGasPlan", plansAreFor},
	{all, all, all, not, all, "getGasPlanSheet", plansAreFor},
	{all, all, all, not, all, "replaceGasPlan", reporters},
	{all, all, not, not, not, "confirmGasPlan", "an instructor or a manager, with their own token"},
	{all, all, all, not, all, "withdrawGasPlan", reporters},
	{all, all, all, all, all, "getGasSettings", ""},
	{all, not, not, not, not, "changeGasSettings", aManager},

	// Limits
	{all, all, all, all, all, "calculateNoStop", ""},
	{all, all, all, own, all, "getDivesOfDay",
		"the crew and managers; a student reads their own dives of a day"},
	{all, all, all, own, all, "getBreathingRate",
		"the crew and managers; a student reads their own breathing rate"},

	// Signals
	{all, all, all, all, all, "listGestures", ""},
	{all, all, all, all, all, "getGesture", ""},
	{all, all, all, all, all, "getGestureSheet", ""},
	{all, all, all, all, all, "getGestureStrip", ""},
	{all, all, all, all, all, "listConventions", ""},
	{all, all, not, not, not, "createConvention", "a manager or an instructor: a program changes no signals"},
	{all, all, all, all, all, "examineConvention", ""},
	{all, all, all, all, all, "getConvention", ""},
	{all, all, not, not, not, "changeConvention", "a manager or an instructor: a program changes no signals"},
	{all, all, all, all, all, "encodeReading", ""},
	{all, all, all, all, all, "decodeGestures", ""},
	{all, all, all, all, all, "compareConventions", ""},
	{all, all, all, own, all, "listBriefings", ownForStudents},
	{all, all, all, not, not, "recordBriefing", witnesses},
	{all, all, all, own, all, "getBriefing", ownForStudents},
	{own, own, own, own, not, "acknowledgeBriefing", thoseBriefed},
	{all, all, all, not, not, "recordAcknowledgements", witnesses},
	{all, all, all, own, all, "getBriefingSheet", ownForStudents},

	// Practice
	{all, all, all, not, all, "writeDrillScript", readers},
	{all, all, all, not, all, "getDrillSheet", readers},
	{all, all, all, all, all, "getPracticeQuestion", ""},
	{all, all, all, all, all, "judgePracticeAnswer", ""},

	// Gas watch
	{all, all, all, not, all, "watchGas", readers},
	{all, all, all, not, not, "recordResponses", witnesses},
	{all, all, all, not, not, "recordLogCompletion", witnesses},
	{all, all, all, not, all, "getGasLog", readers},
	{all, all, all, own, all, "getGasHistory", ownForStudents},

	// Live
	{all, all, all, not, all, "watchSessions", "the crew and managers; a student reads their own progress"},

	// Tokens
	{own, own, own, own, own, "createTicket", ""},

	// Batches from the water
	{all, all, all, not, not, "sendBatch", witnesses},
	{all, all, all, not, all, "listHeldEntries", "the crew, managers and programs"},
	{all, all, own, not, not, "dropHeldEntry", "who sent it, an instructor or a manager"},
	{all, all, all, not, all, "judgeHeldEntry", "the crew, managers and programs"},
}

// notes say what is asked beside the role before an operation is done.
var notes = map[string]string{
	"createPerson": "Roles other than student are given by managers.",
	"changePerson": "A name or a birth date is corrected by managers and instructors, with a reason; " +
		"nobody corrects their own birth date.",
	"takeRole":            "The last manager keeps the role.",
	"recordPaper":         "Nobody records their own papers.",
	"voidPaper":           "Nobody voids their own papers.",
	"liftUnfitMark":       "Where nobody else has charge of the person that day, any instructor; never their own.",
	"transferEnrolment":   "Nobody transfers themselves.",
	"recordCredit":        "Nobody accepts a credit of their own.",
	"voidCredit":          "Nobody voids a credit of their own.",
	"voidEntry":           "Nobody voids what was witnessed of themselves as a student.",
	"createSignOffs":      "The signer is an instructor who takes part in the session, with papers in order.",
	"createCompletion":    "The signer is an instructor with papers in order.",
	"voidSignOff":         "Nobody voids their own; a manager voids those of others only as an instructor too.",
	"voidCompletion":      "Nobody voids their own; a manager voids those of others only as an instructor too.",
	"withdrawGasPlan":     "A confirmed plan is withdrawn by an instructor or a manager.",
	"listGroups":          "A student reads the sessions that they take part in.",
	"getGroup":            "A student reads the sessions that they take part in.",
	"listParticipants":    "A student reads the sessions that they take part in.",
	"getParticipant":      "A student reads the sessions that they take part in.",
	"listBriefings":       "A student reads the briefings that name them.",
	"getBriefing":         "A student reads the briefings that name them.",
	"getBriefingSheet":    "A student reads the briefings that name them.",
	"acknowledgeBriefing": "Only who is named by the briefing.",
	"sendBatch":           "Each entry also needs what its own operation needs.",
	"createTicket":        "The ticket opens what the caller may read.",
}
