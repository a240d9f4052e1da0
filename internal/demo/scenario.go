package demo

import (
	"bytes"
	"embed"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

//go:embed scenario/*.json scenario/*.csv
var scenarioFiles embed.FS

// scenario is what the story is about: the centre, its people and their papers, sites,
// courses, and what gauges show. The files of the directory scenario have it as data. People
// are named by their first name, which no two of them share.
type scenario struct {
	centre    centre
	sites     map[string]object // by key, as the API takes them
	crew      []crewMember
	list      string // the students' list, as it is imported
	students  []string
	referral  referral
	papers    []paper
	courses   map[string]course // by key
	briefing  briefing
	cylinder  cylinder
	breathing map[string]float64 // litres a minute at the surface
	dives     []dive
	checks    []gasCheck
}

// quantity is a value with its unit, as the API takes it.
type quantity struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

type centre struct {
	Name          string `json:"name"`
	TimeZone      string `json:"time_zone"`
	GaugeUnit     string `json:"gauge_unit"`
	AgeOfMajority int    `json:"age_of_majority"`
	Manager       struct {
		Name    string `json:"name"`
		BirthOn string `json:"birth_on"`
	} `json:"manager"`
	OwnRuleBook ruleBook `json:"own_rule_book"`
}

type ruleBook struct {
	Title  string     `json:"title"`
	Source string     `json:"source"`
	Lines  []ruleLine `json:"lines"`
}

type ruleLine struct {
	Title      string   `json:"title"`
	Settings   []string `json:"settings"`
	Levels     []string `json:"levels"`
	AgeTo      int      `json:"age_to"`
	OnlyLimits bool     `json:"only_limits"`
	Places     []int    `json:"places"`
	MaxDepth   quantity `json:"max_depth"`
}

type crewMember struct{ name, role, birthOn string }

// referral is the student who comes from another centre, and what was done there.
type referral struct {
	Name         string `json:"name"`
	BirthOn      string `json:"birth_on"`
	DoneAtCentre string `json:"done_at_centre"`
	DoneBy       string `json:"done_by"`
	DoneOn       string `json:"done_on"`
	Document     string `json:"document"`
}

// paper is a paper of a person, and the step of the story at which it comes in.
type paper struct{ person, kind, outcome, issuedOn, validUntil, when string }

type course struct {
	Title    string    `json:"title"`
	StartsOn string    `json:"starts_on"`
	EndsOn   string    `json:"ends_on"`
	Places   int       `json:"places"` // 0: no limit
	Sessions []session `json:"sessions"`
	Groups   []group   `json:"groups"`
}

type session struct {
	Title         string `json:"title"`
	Kind          string `json:"kind"`
	Site          string `json:"site"` // the key of a site; "" for none
	StartsLocal   string `json:"starts_local"`
	EndsLocal     string `json:"ends_local"`
	TrainingDives []int  `json:"training_dives"`
}

type group struct {
	Name          string   `json:"name"`
	Instructor    string   `json:"instructor"`
	Assistant     string   `json:"assistant"`
	Students      []string `json:"students"`
	WithAssistant []string `json:"with_assistant"` // the students for whom the assistant makes room
}

type briefing struct {
	Convention string              `json:"convention"`
	CheckEvery quantity            `json:"check_every"`
	Start      quantity            `json:"start"`
	Turn       quantity            `json:"turn"`
	Low        map[string]quantity `json:"low"` // by the title of the session: higher for a deeper site
	Roles      []briefingRole      `json:"roles"`
}

// briefingRole is who does what: one of the people, or somebody by name.
type briefingRole struct {
	Role   string `json:"role"`
	Person string `json:"person"`
	Name   string `json:"name"`
}

// cylinder is the cylinder that everybody has, and its pressure at the start of a dive.
type cylinder struct {
	WaterVolume     quantity `json:"water_volume"`
	WorkingPressure quantity `json:"working_pressure"`
	Start           quantity `json:"start"`
}

// dive is a dive of a session: when it begins, how long and how deep it is.
type dive struct {
	session string
	number  int
	in      string
	minutes int
	depth   float64 // metres
}

// gasCheck is a look at a gauge, and the step of the story that logs it. What was not
// signalled is nil.
type gasCheck struct {
	step, session string
	dive          int // 0 in a session without dives
	person, at    string
	depth         *quantity
	reading       quantity
	signalled     *quantity
}

// readScenario returns the scenario. The error names every fault of its files.
func readScenario() (*scenario, error) {
	var sc scenario
	return &sc, errors.Join(
		readJSON("centre.json", &sc.centre),
		readJSON("sites.json", &sc.sites),
		readJSON("courses.json", &sc.courses),
		readJSON("referral.json", &sc.referral),
		readJSON("briefing.json", &sc.briefing),
		readJSON("cylinder.json", &sc.cylinder),
		sc.readPeople(), sc.readDives())
}

func (sc *scenario) readPeople() error {
	list, err := scenarioFiles.ReadFile("scenario/students.csv")
	sc.list, sc.breathing = string(list), map[string]float64{}
	return errors.Join(err,
		readCSV("students.csv", "name,birth_on,gauge_unit", func(cell func(string) string) error {
			sc.students = append(sc.students, firstName(cell("name")))
			return nil
		}),
		readCSV("crew.csv", "name,role,birth_on", func(cell func(string) string) error {
			sc.crew = append(sc.crew, crewMember{cell("name"), cell("role"), cell("birth_on")})
			return nil
		}),
		readCSV("papers.csv", "person,kind,outcome,issued_on,valid_until,when",
			func(cell func(string) string) error {
				sc.papers = append(sc.papers, paper{cell("person"), cell("kind"), cell("outcome"),
					cell("issued_on"), cell("valid_until"), cell("when")})
				return nil
			}),
		readCSV("breathing.csv", "person,litres_per_minute", func(cell func(string) string) (err error) {
			sc.breathing[cell("person")], err = strconv.ParseFloat(cell("litres_per_minute"), 64)
			return err
		}))
}

func (sc *scenario) readDives() error {
	return errors.Join(
		readCSV("dives.csv", "session,dive,in_at,minutes,depth_m", func(cell func(string) string) error {
			number, err1 := strconv.Atoi(cell("dive"))
			minutes, err2 := strconv.Atoi(cell("minutes"))
			depth, err3 := strconv.ParseFloat(cell("depth_m"), 64)
			sc.dives = append(sc.dives, dive{cell("session"), number, cell("in_at"), minutes, depth})
			return errors.Join(err1, err2, err3)
		}),
		readCSV("gas_checks.csv", "step,session,dive,person,witnessed_at,depth_m,reading,signalled,unit",
			func(cell func(string) string) error {
				c := gasCheck{step: cell("step"), session: cell("session"), person: cell("person"),
					at: cell("witnessed_at")}
				depth, err1 := maybe(cell("depth_m"), "m")
				reading, err2 := maybe(cell("reading"), cell("unit"))
				signalled, err3 := maybe(cell("signalled"), cell("unit"))
				number, err4 := strconv.Atoi("0" + cell("dive"))
				if err := errors.Join(err1, err2, err3, err4); err != nil {
					return err
				}
				if reading == nil {
					return errors.New("a gas check without a reading")
				}
				c.dive, c.depth, c.reading, c.signalled = number, depth, *reading, signalled
				sc.checks = append(sc.checks, c)
				return nil
			}))
}

// maybe returns a quantity, nil where there is no value.
func maybe(value, unit string) (*quantity, error) {
	if value == "" {
		return nil, nil
	}
	x, err := strconv.ParseFloat(value, 64)
	return &quantity{x, unit}, err
}

// readJSON reads a file of the scenario, which may have nothing that the value has not.
func readJSON(name string, into any) error {
	text, err := scenarioFiles.ReadFile("scenario/" + name)
	if err != nil {
		return err
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("scenario: %s: %w", name, err)
	}
	return nil
}

// readCSV calls row with each row of a file of the scenario, which has to have just the named
// columns.
func readCSV(name, columns string, row func(cell func(column string) string) error) error {
	f, err := scenarioFiles.Open("scenario/" + name)
	if err != nil {
		return err
	}
	defer f.Close()
	r := csv.NewReader(f)
	head, err := r.Read()
	if err != nil {
		return fmt.Errorf("scenario: %s: %w", name, err)
	}
	if strings.Join(head, ",") != columns {
		return fmt.Errorf("scenario: %s: found columns %q, must be %q", name, head, columns)
	}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil {
			err = row(func(column string) string { return cells[slices.Index(head, column)] })
		}
		if err != nil {
			return fmt.Errorf("scenario: %s: %w", name, err)
		}
	}
}

// firstName returns the first of a person's names.
func firstName(name string) string { return strings.Fields(name)[0] }

// session returns a session of a course.
func (sc *scenario) session(course, title string) session {
	for _, x := range sc.courses[course].Sessions {
		if x.Title == title {
			return x
		}
	}
	panic(storyStopped{"the scenario has no session " + title + " of the course " + course})
}

// group returns a group of the weekend course.
func (sc *scenario) group(name string) group {
	for _, g := range sc.courses["weekend"].Groups {
		if g.Name == name {
			return g
		}
	}
	panic(storyStopped{"the scenario has no group " + name})
}

// dive returns a dive of a session.
func (sc *scenario) dive(session string, number int) dive {
	for _, d := range sc.dives {
		if d.session == session && d.number == number {
			return d
		}
	}
	panic(storyStopped{fmt.Sprintf("the scenario has no dive %d of %s", number, session)})
}
