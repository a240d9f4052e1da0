package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	openapi_types "github.com/oapi-codegen/runtime/types"
)

// scenario is what the files of the demo say. What they have in the form of the contract is read into
// the types of the client.
type scenario struct {
	site     map[string]SiteCreate
	weekend  weekend
	crew     []map[string]string
	students []map[string]string
	papers   []map[string]string
	dives    []map[string]string
	rates    map[string]float64 // L/min at the surface, by first name
	cylinder cylinder
	briefing briefing
}

type weekend struct {
	Title    string             `json:"title"`
	StartsOn openapi_types.Date `json:"starts_on"`
	EndsOn   openapi_types.Date `json:"ends_on"`
	Sessions []struct {
		SessionCreate
		Site string `json:"site"`
	} `json:"sessions"`
	Groups []struct {
		Name          string   `json:"name"`
		Instructor    string   `json:"instructor"`
		Assistant     string   `json:"assistant"`
		Students      []string `json:"students"`
		WithAssistant []string `json:"with_assistant"`
	} `json:"groups"`
}

type cylinder struct {
	WaterVolume     Volume   `json:"water_volume"`
	WorkingPressure Pressure `json:"working_pressure"`
	Start           Pressure `json:"start"`
}

type briefing struct {
	CheckEvery Duration            `json:"check_every"`
	Start      Pressure            `json:"start"`
	Turn       Pressure            `json:"turn"`
	Low        map[string]Pressure `json:"low"`
}

func readScenario(dir string) scenario {
	var courses struct {
		Weekend weekend `json:"weekend"`
	}
	s := scenario{rates: map[string]float64{}}
	readJSON(dir, "sites.json", &s.site)
	readJSON(dir, "courses.json", &courses)
	readJSON(dir, "cylinder.json", &s.cylinder)
	readJSON(dir, "briefing.json", &s.briefing)
	s.weekend = courses.Weekend
	s.crew, s.students = readCSV(dir, "crew.csv"), readCSV(dir, "students.csv")
	s.papers, s.dives = readCSV(dir, "papers.csv"), readCSV(dir, "dives.csv")
	for _, r := range readCSV(dir, "breathing.csv") {
		rate, err := strconv.ParseFloat(r["litres_per_minute"], 64)
		check(err)
		s.rates[r["person"]] = rate
	}
	return s
}

func readJSON(dir, name string, into any) {
	text, err := os.ReadFile(filepath.Join(dir, name))
	check(err)
	check(json.Unmarshal(text, into))
}

// readCSV returns the rows of a file, each by the names of the columns.
func readCSV(dir, name string) (out []map[string]string) {
	file, err := os.Open(filepath.Join(dir, name))
	check(err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	check(err)
	for _, row := range rows[1:] {
		one := map[string]string{}
		for i, column := range rows[0] {
			one[column] = row[i]
		}
		out = append(out, one)
	}
	return out
}

// inGroup returns the students of the blue group who take part here: those whom the instructor takes
// alone, and the first of those who need the assistant.
func (s scenario) inGroup() []string {
	blue := s.weekend.Groups[0]
	return append(slices.Clone(blue.Students), blue.WithAssistant[0])
}

// theDives returns the dives of a session.
func (s scenario) theDives(session string) []map[string]string {
	return slices.DeleteFunc(slices.Clone(s.dives),
		func(d map[string]string) bool { return d["session"] != session })
}

// endPressure returns the pressure that is left after a dive at half the depth: by the ideal gas law, as
// the demo has it.
func (s scenario) endPressure(name string, depth, minutes float64) Pressure {
	rate, known := s.rates[name]
	expect(known, "nothing is known of the breathing of %s", name)
	left := s.cylinder.Start.Value - rate*(1+depth/20)*minutes/s.cylinder.WaterVolume.Value
	return bar(float64(int(left)))
}

func firstName(name string) string { return strings.Fields(name)[0] }

func day(text string) openapi_types.Date {
	t, err := time.Parse(time.DateOnly, text)
	check(err)
	return openapi_types.Date{Time: t}
}

func number(text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	check(err)
	return x
}
