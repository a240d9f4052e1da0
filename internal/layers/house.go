package layers

import "strings"

// Layer is a layer of the house.
type Layer string

// The rooms, from the ground up. A package may import packages of the rooms in may.
const (
	Words    Layer = "words"         // every package may use them
	Rules    Layer = "rules"         // pure: values in, decision out
	Platform Layer = "platform"      // database, ledger, journal
	Query    Layer = "query"         // the data that features judge by: reads every table, writes none
	Features Layer = "features"      // nouns, services and SQL
	Edge     Layer = "edge"          // HTTP, configuration, wiring, commands
	House    Layer = "the house law" // this package

	// Published is what tests are held against: figures that others printed. Only tests
	// import it.
	Published Layer = "published figures"
)

// rooms has the room of each package and of those beneath its directory. A new package
// is entered here.
var rooms = map[string]Layer{
	"internal/units":      Words,
	"internal/finding":    Words,
	"internal/fault":      Words,
	"internal/actor":      Words,
	"internal/permission": Words,
	"internal/when":       Words,
	"internal/once":       Words,
	"internal/wording":    Words,

	"internal/gas":      Rules,
	"internal/nostop":   Rules,
	"internal/signal":   Rules,
	"internal/ratio":    Rules,
	"internal/syllabus": Rules,
	"internal/roster":   Rules,

	"migrations":        Platform,
	"internal/pg":       Platform,
	"internal/ledger":   Platform,
	"internal/journal":  Platform,
	"internal/page":     Platform,
	"internal/versions": Platform,

	"internal/dayview":    Query,
	"internal/waterview":  Query,
	"internal/standing":   Query,
	"internal/gaswatch":   Query,
	"internal/watercheck": Query,
	"internal/diveday":    Query,
	"internal/planview":   Query,
	"internal/readiness":  Query,
	"internal/gasplan":    Query,
	"internal/decision":   Query,

	"internal/access":     Features,
	"internal/centre":     Features,
	"internal/people":     Features,
	"internal/courses":    Features,
	"internal/sessions":   Features,
	"internal/waterlog":   Features,
	"internal/assessment": Features,
	"internal/plans":      Features,
	"internal/briefings":  Features,
	"internal/live":       Features,
	"internal/desk":       Features,
	"internal/offline":    Features,
	"internal/review":     Features,

	"api":              Edge,
	"cmd":              Edge,
	"internal/app":     Edge,
	"internal/cli":     Edge,
	"internal/config":  Edge,
	"internal/httpapi": Edge,

	"internal/httpapi/contract": Edge,
	"internal/httpapi/request":  Edge,
	"internal/httpapi/answer":   Edge,
	"internal/httpapi/gate":     Edge,

	"internal/form":       Edge,
	"internal/planform":   Edge,
	"internal/demo":       Edge,
	"internal/bench":      Edge,
	"internal/sheet":      Edge,
	"internal/nostopform": Edge,

	"internal/scenetest": Edge, // imported by tests only

	"internal/published": Published,

	"internal/layers": House,
}

// dayview is the read model of a session, on which the others are built: it imports only
// pg of the platform.
const (
	dayview  = "internal/dayview"
	database = "internal/pg"
)

// composers compose features in one transaction, and are the only features that may
// import others, each those before it as well.
var composers = []string{"internal/desk", "internal/offline", "internal/review"}

// may has the rooms that a room may import from. Imports within a room are judged by
// the import law itself.
var may = map[Layer][]Layer{
	Words:    {Words},
	Rules:    {Words},
	Platform: {Words, Platform},
	Query:    {Words, Rules, Platform, Query},
	Features: {Words, Rules, Platform, Query},
	Edge:     {Words, Rules, Platform, Query, Features, Edge},
	House:    {},

	Published: {},
}

// edgeRooms has the packages that a room of the HTTP edge imports beside words, exactly: an import that
// is missing here is a breach, and so is one that is listed and not made.
var edgeRooms = map[string][]string{
	"internal/httpapi/contract": {"api"},
	"internal/httpapi/request":  {"internal/httpapi/contract"},
	"internal/httpapi/answer": {"api", "internal/access", "internal/form", "internal/httpapi/contract",
		"internal/httpapi/request", "internal/live", "internal/roster"},
	"internal/httpapi/gate": {"api", "internal/access", "internal/httpapi/answer", "internal/httpapi/contract",
		"internal/httpapi/request"},
}

// wordsForRules are the words that a rule may import.
var wordsForRules = []string{"internal/units", "internal/finding"}

// tables has the tables of each package: only the owner writes them, and only the
// owner reads them directly.
var tables = map[string][]string{
	"internal/access": {"token", "ticket"},
	"internal/centre": {"centre", "rule_book"},
	"internal/people": {"person", "person_role", "person_correction", "paper", "paper_void",
		"unfit_mark", "unfit_lift"},
	"internal/courses": {"site", "syllabus", "syllabus_version", "course", "enrolment"},
	"internal/sessions": {"outing", "outing_guest", "session", "session_group", "clearance",
		"participant", "dive",
		"roll_call", "conditions_report", "head_count", "head_count_name", "incident", "incident_person"},
	"internal/waterlog": {"time_in", "time_out", "gas_check", "gas_response", "drill_attempt",
		"log_completion"},
	"internal/assessment": {"theory_result", "credit", "credit_void", "sign_off", "sign_off_void",
		"completion", "completion_void"},
	"internal/plans": {"gas_settings", "gas_plan", "gas_plan_person", "gas_plan_confirmed",
		"gas_plan_withdrawn"},
	"internal/briefings":  {"convention", "briefing", "briefing_person", "acknowledgement"},
	"internal/journal":    {"entry", "entry_void", "entry_clock", "decision"},
	"internal/offline":    {"water_batch", "water_entry", "water_wait", "water_due", "water_held"},
	"internal/live":       {"live_head", "live_event"},
	"internal/ledger":     {"ledger_entry", "ledger_head", "ledger_salt"},
	"internal/pg":         {"position_epoch"},
	"internal/pg/migrate": {"schema_migrations"},
}

// Owners returns the package that owns each table.
func Owners() map[string]string {
	out := map[string]string{}
	for pkg, names := range tables {
		for _, n := range names {
			out[n] = pkg
		}
	}
	return out
}

// ViewOwner returns the package that keeps a view: its name begins with the package's,
// as people_person with that of internal/people.
func ViewOwner(view string) (string, bool) {
	for pkg := range tables {
		if strings.HasPrefix(view, lastOf(pkg)+"_") {
			return pkg, true
		}
	}
	return "", false
}

func lastOf(pkg string) string { return pkg[strings.LastIndex(pkg, "/")+1:] }

// place returns the room of a package and the directory that is entered for it.
func place(pkg string) (entered string, room Layer, ok bool) {
	for p := pkg; ; {
		if r, ok := rooms[p]; ok {
			return p, r, true
		}
		i := strings.LastIndex(p, "/")
		if i < 0 {
			return "", "", false
		}
		p = p[:i]
	}
}
