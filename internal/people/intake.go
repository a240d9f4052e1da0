package people

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/once"
	"tankside/internal/pg"
)

// IntakeColumns are the columns of a list of students, in any order; the first
// two are required.
var IntakeColumns = []string{"name", "birth_on", "gauge_unit", "email", "phone", "emergency_name", "emergency_phone", "emergency_relation"}

// longestList is how many people a list may have, our choice: more than a season
// brings, and few enough to be added within one transaction.
const longestList = 1000

// BadLine is the rule that a faulty line of a list breaks.
var BadLine = finding.Rule{ID: "people.bad_line", Severity: finding.Forbidden,
	Title:  "Every line of a list can be read",
	Text:   "A list of students is taken in whole or not at all. Each fault is named with its line and column; the first line has the columns' names.",
	Source: "RFC 4180; our choice of columns"}

// TakeIn adds the students of a list, all or none: a comma-separated list in
// UTF-8 whose first line names the columns. Sent again, the same list is
// answered with the people whom it added.
func (s *Service) TakeIn(ctx context.Context, key once.Key, list []byte) (out []Person, created bool, err error) {
	who := actor.From(ctx)
	if err := mayKeepPeople(who, nil); err != nil {
		return nil, false, err
	}
	err = s.db.In(ctx, who.Centre, func(ctx context.Context, tx *pg.Tx) error {
		centre, err := readCentre(ctx, tx, "")
		if err != nil {
			return err
		}
		people, err := readList(list, centre.GaugeUnit, tx.Now)
		if err != nil {
			return err
		}
		for i := range people {
			// The id follows from the list and the line, so that a list sent
			// twice adds nobody twice.
			people[i].Key = once.Key{ID: uuid.NewSHA1(tx.Centre, fmt.Appendf(nil, "%x/%d", key.Digest, i)), Digest: key.Digest}
		}
		_, err = findPerson(ctx, tx, people[0].ID)
		if created = fault.KindOf(err) == fault.NotFound; created {
			err = insertPeople(ctx, tx, people)
		}
		if err != nil {
			return err
		}
		out = nil
		for _, p := range people {
			row, err := findPerson(ctx, tx, p.ID)
			if err != nil {
				return err
			}
			out = append(out, row)
		}
		return nil
	})
	return out, created, err
}

// line is where a fault stands.
func badLine(line, column int, message string) finding.Finding {
	f := BadLine.Of(message)
	f.In, f.Line, f.Column = "file", line, column
	return f
}

func listFault(l finding.List) error {
	message := fmt.Sprintf("The list has %d faults; nothing was taken in.", len(l))
	if len(l) == 1 {
		message = fmt.Sprintf("Line %d, column %d: %s Nothing was taken in.", l[0].Line, l[0].Column, l[0].Message)
	}
	return fault.New(fault.Malformed, "bad_list", message).With(l...)
}

// readList reads a whole list and tells every fault in it.
func readList(list []byte, gauge string, now time.Time) ([]NewPerson, error) {
	if err := readable(list); err != nil {
		return nil, err
	}
	r := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(list), "\ufeff")))
	r.FieldsPerRecord = -1
	header, err := r.Read()
	if err != nil {
		return nil, listFault(finding.List{badLine(1, 1, "The first line has to name the columns: "+strings.Join(IntakeColumns, ", ")+".")})
	}
	at, faults := columnsOf(header)
	var people []NewPerson
	for len(people) <= longestList && (len(faults) == 0 || at != nil) {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *csv.ParseError
		if errors.As(err, &broken) {
			faults = append(faults, badLine(broken.Line, broken.Column, "The line cannot be read: "+broken.Err.Error()+"."))
			break
		}
		p, wrong := personOf(r, record, header, at, gauge, now)
		people, faults = append(people, p), append(faults, wrong...)
	}
	if len(people) > longestList {
		faults = finding.List{badLine(1, 1, fmt.Sprintf("The list has more than %d people. Send it in parts.", longestList))}
	}
	if len(faults) == 0 && len(people) == 0 {
		faults = append(faults, badLine(2, 1, "The list has nobody on it."))
	}
	if len(faults) > 0 {
		return nil, listFault(faults)
	}
	return people, nil
}

// readable finds other encodings than UTF-8, as spreadsheets write them.
func readable(list []byte) error {
	if utf8.Valid(list) && !strings.ContainsRune(string(list), 0) {
		return nil
	}
	line, column := 1, 1
	for i := 0; i < len(list); {
		r, size := utf8.DecodeRune(list[i:])
		if r == 0 || r == utf8.RuneError && size == 1 {
			break
		}
		column++
		if r == '\n' {
			line, column = line+1, 1
		}
		i += size
	}
	return listFault(finding.List{badLine(line, column, "The list is not in UTF-8 from here on. Save it as \"CSV UTF-8\" and send it again.")})
}

// columnsOf says where each column stands; nil when the header is of no use.
func columnsOf(header []string) (map[string]int, finding.List) {
	at := map[string]int{}
	var faults finding.List
	for i, name := range header {
		name = strings.TrimSpace(strings.ToLower(name))
		known := false
		for _, c := range IntakeColumns {
			known = known || c == name
		}
		_, twice := at[name]
		switch {
		case !known:
			faults = append(faults, badLine(1, i+1, fmt.Sprintf("There is no column %q; want %s.", name, strings.Join(IntakeColumns, ", "))))
		case twice:
			faults = append(faults, badLine(1, i+1, fmt.Sprintf("The column %q is there twice.", name)))
		}
		at[name] = i
	}
	for _, c := range IntakeColumns[:2] {
		if _, ok := at[c]; !ok {
			faults = append(faults, badLine(1, 1, fmt.Sprintf("The column %q is missing.", c)))
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return at, nil
}

// personOf reads one line. Columns of faults are counted in characters from 1.
func personOf(r *csv.Reader, record, header []string, at map[string]int, gauge string, now time.Time) (NewPerson, finding.List) {
	var faults finding.List
	line, _ := r.FieldPos(0)
	if len(record) != len(header) {
		return NewPerson{}, finding.List{badLine(line, 1, fmt.Sprintf("The line has %d fields, the first line %d.", len(record), len(header)))}
	}
	field := func(name string) (string, int) {
		i, ok := at[name]
		if !ok {
			return "", 1
		}
		_, column := r.FieldPos(i)
		return strings.TrimSpace(record[i]), column
	}
	bad := func(column int, format string, args ...any) {
		faults = append(faults, badLine(line, column, fmt.Sprintf(format, args...)))
	}
	p := NewPerson{Roles: []actor.Role{actor.Student}}
	p.GaugeUnit = gauge
	var column int
	if p.Name, column = field("name"); p.Name == "" || utf8.RuneCountInString(p.Name) > 200 {
		bad(column, "The name has to be there, with at most 200 characters.")
	}
	birth, column := field("birth_on")
	born, err := time.Parse(time.DateOnly, birth)
	if p.BirthOn = born; err != nil {
		bad(column, "%q is no date; want one like 1994-03-21.", birth)
	} else if p.check(now, "") != nil {
		bad(column, "%s is no birth date of somebody alive.", birth)
	}
	if unit, column := field("gauge_unit"); unit != "" {
		if p.GaugeUnit = unit; unit != "bar" && unit != "psi" {
			bad(column, "%q is no unit of a gauge; want bar or psi.", unit)
		}
	}
	for name, into := range map[string]**string{"email": &p.Email, "phone": &p.Phone, "emergency_name": &p.EmergencyName,
		"emergency_phone": &p.EmergencyPhone, "emergency_relation": &p.EmergencyRelation} {
		text, column := field(name)
		if utf8.RuneCountInString(text) > 200 {
			bad(column, "The field %s has more than 200 characters.", name)
		}
		if text != "" {
			*into = &text
		}
	}
	return p, faults
}
