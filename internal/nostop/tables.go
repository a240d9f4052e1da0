package nostop

import (
	"embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

//go:embed tables/*.csv
var files embed.FS

// Source is the manual that the tables were copied from.
const Source = "US Navy Diving Manual Rev 7 (SS521-AG-PRO-010, Dec 2016)"

// The sources of the single tables.
const (
	source97  = Source + ", Table 9-7"
	source98  = Source + ", Table 9-8"
	source988 = Source + ", Table 9-8 and paragraph 9-9.1 (8)"
	source96  = Source + ", Table 9-6"
	source2A1 = Source + ", Table 2A-1"
)

// Row is one depth of Table 9-7 or 2A-1.
type Row struct {
	Depth FSW
	Limit Limit        // the no-stop limit
	last  [Z + 1]Limit // greatest time in each group; zero where the row lacks it
}

// cell is one entry of the lower part of Table 9-8.
type cell struct {
	minutes   Minutes
	undefined bool // the table has no figure, paragraph 9-9.1 (8)
	use30     bool // read the 30 fsw row instead
}

// book is all tables as read from the files.
type book struct {
	rows     []Row                     // Table 9-7, shallow to deep
	feet     []Row                     // Table 2A-1, shallow to deep
	from     [Z + 1][Z + 1]Minutes     // Table 9-8: shortest interval from a group to another, 0 where none
	residual map[FSW][Z + 1]cell       // Table 9-8: residual nitrogen time
	wait     [Z + 1][thousands]Minutes // Table 9-6, by thousands of feet
	arrival  [thousands]Group          // Table 9-5, by thousands of feet
}

// thousands is how many altitudes Tables 9-5 and 9-6 have: 1000 to 10000 ft.
const thousands = 10

var tables = mustRead()

// mustRead reads the embedded files. They are part of the program, so an error in them panics at
// the start.
func mustRead() (b book) {
	b.rows, b.feet = mustRows("9-7"), mustRows("2A-1")
	for _, rec := range mustRecords("9-8-interval") {
		end := None
		if rec[1] != "NONREPETITIVE" {
			end = mustGroup(rec[1])
		}
		b.from[mustGroup(rec[0])][end] = mustMinutes(rec[2])
	}
	b.residual = mustResidual()
	for _, rec := range mustRecords("9-6") {
		for i, s := range rec[1:] {
			b.wait[mustGroup(rec[0])][i] = mustClock(s)
		}
	}
	for i, rec := range mustRecords("9-5") {
		b.arrival[i] = mustGroup(rec[1])
	}
	return b
}

// mustRows reads a table of limits and groups.
func mustRows(name string) []Row {
	var rows []Row
	for _, rec := range mustRecords(name) {
		r := Row{Depth: FSW(mustMinutes(rec[0])), Limit: mustLimit(rec[1])}
		for i, s := range rec[2:] {
			if s != "" {
				r.last[A+Group(i)] = mustLimit(s)
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// mustResidual reads the lower part of Table 9-8, whose columns run from Z to A.
func mustResidual() map[FSW][Z + 1]cell {
	out := map[FSW][Z + 1]cell{}
	for _, rec := range mustRecords("9-8-residual") {
		var row [Z + 1]cell
		for i, s := range rec[1:] {
			switch g := Z - Group(i); s {
			case "undefined":
				row[g].undefined = true
			case "use_30fsw":
				row[g].use30 = true
			default:
				row[g].minutes = mustMinutes(s)
			}
		}
		out[FSW(mustMinutes(rec[0]))] = row
	}
	return out
}

// mustRecords returns the lines of a table without its notes and headings.
func mustRecords(name string) [][]string {
	f, err := files.Open("tables/" + name + ".csv")
	if err != nil {
		panic(err)
	}
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		panic(fmt.Errorf("table %s: %w", name, err))
	}
	return all[1:]
}

func mustLimit(s string) Limit {
	if s == "unlimited" || s == "*" {
		return Limit{Unlimited: true}
	}
	return Limit{At: mustMinutes(s)}
}

func mustMinutes(s string) Minutes {
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 {
		panic(fmt.Sprintf("nostop: %q is no number of minutes", s))
	}
	return Minutes(n)
}

func mustClock(s string) Minutes {
	h, m, ok := strings.Cut(s, ":")
	if !ok {
		panic(fmt.Sprintf("nostop: %q is no time as h:mm", s))
	}
	return 60*mustMinutes(h) + mustMinutes(m)
}

func mustGroup(s string) Group {
	g, err := ParseGroup(s)
	if err != nil {
		panic(err)
	}
	return g
}
