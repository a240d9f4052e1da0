package httpapi

import (
	"tankside/api"
	"tankside/internal/finding"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/httpapi/gate"
)

// handlers implements api.StrictServerInterface. It only puts together the handlers of
// each subject, which have the services that they call and no others.
type handlers struct {
	batchHandlers
	bookHandlers
	briefingHandlers
	centreHandlers
	conventionHandlers
	courseHandlers
	decisionHandlers
	diveDayHandlers
	drillSheetHandlers
	gasWatchHandlers
	gestureHandlers
	groupHandlers
	liveHandlers
	meHandlers
	onTheDayHandlers
	paperHandlers
	personHandlers
	planHandlers
	practiceHandlers
	progressHandlers
	sessionHandlers
	signOffHandlers
	siteHandlers
	syllabusHandlers
	ticketHandlers
	tokenHandlers
	trainingHandlers
}

var _ api.StrictServerInterface = handlers{}

// newHandlers returns the handlers of every operation, on the services of o. rules are
// those of /v1/rules, those of the contract included.
func newHandlers(o Options, c *contract.Contract, g *gate.Gate, rules []finding.Rule,
	w *answer.Withheld) handlers {
	return handlers{
		batchHandlers:    batchHandlers{offline: o.Offline, contract: c},
		bookHandlers:     bookHandlers{centre: o.Centre},
		briefingHandlers: briefingHandlers{briefings: o.Briefings},
		centreHandlers:   centreHandlers{centre: o.Centre, desk: o.Desk},
		conventionHandlers: conventionHandlers{briefings: o.Briefings,
			briefingsFor: choose(o.Briefings, o.DryRun.Briefings)},
		courseHandlers: courseHandlers{courses: o.Courses,
			coursesFor: choose(o.Courses, o.DryRun.Courses), desk: o.Desk,
			deskFor: choose(o.Desk, o.DryRun.Desk), people: o.People},
		decisionHandlers: decisionHandlers{review: o.Review},
		diveDayHandlers:  diveDayHandlers{diveDay: o.DiveDay},
		drillSheetHandlers: drillSheetHandlers{briefings: o.Briefings, gaswatch: o.Gaswatch,
			sessions: o.Sessions},
		gasWatchHandlers: gasWatchHandlers{gaswatch: o.Gaswatch, waterlog: o.Waterlog},
		gestureHandlers:  gestureHandlers{},
		groupHandlers: groupHandlers{people: o.People, sessions: o.Sessions,
			sessionsFor: choose(o.Sessions, o.DryRun.Sessions)},
		liveHandlers:     liveHandlers{hub: o.Live, gate: g, quiet: o.quiet, withheld: w},
		meHandlers:       meHandlers{access: o.Access, rules: rules, contract: c},
		onTheDayHandlers: onTheDayHandlers{desk: o.Desk, sessions: o.Sessions},
		paperHandlers: paperHandlers{desk: o.Desk, people: o.People,
			peopleFor: choose(o.People, o.DryRun.People)},
		personHandlers: personHandlers{desk: o.Desk, people: o.People,
			peopleFor: choose(o.People, o.DryRun.People)},
		planHandlers: planHandlers{plans: o.Plans, plansFor: choose(o.Plans, o.DryRun.Plans),
			rules: rules},
		practiceHandlers: practiceHandlers{briefings: o.Briefings, gaswatch: o.Gaswatch},
		progressHandlers: progressHandlers{assessment: o.Assessment, desk: o.Desk},
		sessionHandlers: sessionHandlers{courses: o.Courses, offline: o.Offline,
			offlineFor: choose(o.Offline, o.DryRun.Offline), sessions: o.Sessions,
			sessionsFor: choose(o.Sessions, o.DryRun.Sessions)},
		signOffHandlers: signOffHandlers{assessment: o.Assessment,
			assessmentFor: choose(o.Assessment, o.DryRun.Assessment), desk: o.Desk,
			deskFor:    choose(o.Desk, o.DryRun.Desk),
			offlineFor: choose(o.Offline, o.DryRun.Offline)},
		siteHandlers:     siteHandlers{courses: o.Courses},
		syllabusHandlers: syllabusHandlers{courses: o.Courses},
		ticketHandlers:   ticketHandlers{access: o.Access, contract: c},
		tokenHandlers:    tokenHandlers{access: o.Access},
		trainingHandlers: trainingHandlers{assessment: o.Assessment, desk: o.Desk, waterlog: o.Waterlog},
	}
}

// byDryRun returns the service that handles a request, by its parameter dry_run: with
// true the one whose transactions roll back.
type byDryRun[S any] func(dryRun *bool) S

// choose returns the choice between a service and the same service on a handle whose
// transactions roll back.
func choose[S any](commits, rollsBack S) byDryRun[S] {
	return func(dryRun *bool) S {
		if given(dryRun, false) {
			return rollsBack
		}
		return commits
	}
}
