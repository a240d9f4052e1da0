package people

import (
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/wording"
)

// IntakeColumns are the columns of a list of students, in any order; the first
// two are required.
var IntakeColumns = []string{"name", "birth_on", "gauge_unit", "email", "phone", "emergency_name",
	"emergency_phone", "emergency_relation"}

// longestList is the largest number of people in a list, our choice: more than a
// season brings, and few enough to be added within one transaction.
const longestList = 1000

// How much of a list is read before its people are checked, and how many of its
// faults are reported, our choice: a list that has only faults costs no more than
// one that can be imported.
const (
	mostLines  = 4 * longestList  // with empty lines, and line breaks within fields
	mostCommas = 40 * longestList // several times the number of columns
	mostFaults = 300
	shownOf    = 40 // characters of a field that a fault repeats
)

// BadLine is the rule that a faulty line of a list breaks.
var BadLine = finding.Rule{ID: "people.bad_line", Severity: finding.Forbidden,
	Title: "Every line of a list can be read",
	Text: "A list of students is taken in whole or not at all. Each fault is named with its line and " +
		"column; the first line has the columns' names.",
	Source: "RFC 4180; our choice of columns"}

// ThereAlready is the rule that a list brings only new people.
var ThereAlready = finding.Rule{ID: "people.there_already", Severity: finding.Forbidden,
	Title: "A list brings only new people",
	Text: "Who is at the centre already, by name and birth date, or stands on the list twice, " +
		"is not added again: what is recorded of one person stays together.",
	Source: "our choice"}

// listedPerson is a person in a list, with the position of the name.
type listedPerson struct {
	NewPerson
	line, column int
}

// ImportList adds the students of a list, all or none. A list is comma-separated text
// in UTF-8, and its first line names the columns. The same list sent again returns
// the people whom it added the first time.
func (s *Service) ImportList(ctx context.Context, by actor.Actor, key once.Key,
	list []byte) (out []Person, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		centre, err := readLocal(ctx, tx)
		if err != nil {
			return err
		}
		listed, err := readList(list, centre.GaugeUnit, tx.Now)
		if err != nil {
			return err
		}
		ids := make([]uuid.UUID, len(listed))
		for i := range listed {
			// The id is derived from the list and the line, so that a list sent
			// twice adds nobody twice.
			ids[i] = uuid.NewSHA1(tx.Centre, fmt.Appendf(nil, "%x/%d", key.Digest, i))
			listed[i].Key = once.Key{ID: ids[i], Digest: key.Digest}
		}
		if out, err = peopleByID(ctx, tx, ids); err != nil || len(out) > 0 {
			return err
		}
		if err := refuseKnown(ctx, tx, listed); err != nil {
			return err
		}
		for _, p := range listed {
			if err := insertPerson(ctx, tx, p.NewPerson); err != nil {
				return err
			}
		}
		created = true
		out, err = peopleByID(ctx, tx, ids)
		return err
	})
	return out, created, err
}

// peopleByID reads people in the order of the ids; it returns none for no ids.
func peopleByID(ctx context.Context, tx *pg.Tx, ids []uuid.UUID) ([]Person, error) {
	return pg.Rows[Person](ctx, tx, `SELECT `+personColumns+
		` FROM unnest(@ids::uuid[]) WITH ORDINALITY AS l (id, n)
		JOIN person p ON p.centre_id = app_centre() AND p.id = l.id
		ORDER BY l.n`, pgx.StrictNamedArgs{"ids": ids})
}

// personKey returns the key by which a list recognises a person: the name, without
// regard to capitals and spaces, and the birth date.
func personKey(name string, born time.Time) string {
	return strings.ToLower(strings.Join(strings.Fields(name), " ")) + born.Format(" 2006-01-02")
}

// refuseKnown refuses a list that has a person of the centre on it, or a person
// twice: otherwise the records of one person would be spread over two.
func refuseKnown(ctx context.Context, tx *pg.Tx, listed []listedPerson) error {
	born := make([]time.Time, len(listed))
	for i, p := range listed {
		born[i] = p.BirthOn
	}
	there, err := pg.Rows[struct {
		ID      uuid.UUID
		Name    string
		BirthOn time.Time
	}](ctx, tx, `SELECT id, name, birth_on
		FROM person
		WHERE centre_id = app_centre() AND birth_on = ANY (@born::date[])`, pgx.StrictNamedArgs{"born": born})
	if err != nil {
		return err
	}
	known, lines := map[string]uuid.UUID{}, map[string]int{}
	for _, p := range there {
		known[personKey(p.Name, p.BirthOn)] = p.ID
	}
	var faults finding.List
	for _, p := range listed {
		who, on := personKey(p.Name, p.BirthOn), p.BirthOn.Format(time.DateOnly)
		id, here := known[who]
		first, twice := lines[who]
		switch {
		case here:
			f := ThereAlready.Say("The centre has {person}, born on {birth_on}, already.",
				finding.Person(id, p.Name), on)
			faults = append(faults, p.known(f.About(finding.Subject{Type: "person", ID: id.String()})))
		case twice:
			faults = append(faults, p.known(ThereAlready.Say("Line {line} has {name}, born on {birth_on}, already.",
				first, p.Name, on)))
		default:
			lines[who] = p.line
		}
	}
	if len(faults) > 0 {
		return listFault(faults)
	}
	return nil
}

// known completes the finding about a person who is known already.
func (p listedPerson) known(f finding.Finding) finding.Finding {
	f.In, f.Line, f.Column = "file", p.line, p.column
	f.Cures = []finding.Cure{
		{Code: "leave_out", Message: "Leave the line out."},
		{Code: "add_person", Message: "If it is another person of that name and birth date, " +
			"add them alone."},
	}
	return f
}

// badLine returns the finding for a fault of a list, with its line and column.
func badLine(line, column int, template string, parts ...any) finding.Finding {
	f := BadLine.Say(template, parts...)
	f.In, f.Line, f.Column = "file", line, column
	return f
}

func listFault(l finding.List) error {
	message := fmt.Sprintf("The list has %d faults; nothing was taken in.", len(l))
	if more := len(l) - mostFaults; more > 0 {
		last := l[mostFaults]
		l = append(l[:mostFaults:mostFaults], badLine(last.Line, last.Column,
			"From here on there are {more} faults more. Put the first {count} right, and send the list again.",
			more, mostFaults))
	}
	if len(l) == 1 {
		message = fmt.Sprintf("Line %d, column %d: %s Nothing was taken in.", l[0].Line,
			l[0].Column, l[0].Message)
	}
	return fault.New(fault.Malformed, "bad_list", message).With(l...)
}

// listReader reads a list line by line and keeps the position of each field.
type listReader struct {
	*csv.Reader
	lines []string
}

func newListReader(list []byte) listReader {
	text := strings.TrimPrefix(string(list), "\ufeff") // the byte order mark of spreadsheets
	r := listReader{csv.NewReader(strings.NewReader(text)), strings.Split(text, "\n")}
	r.FieldsPerRecord = -1
	return r
}

// place returns the line and column of field i of the last record, counted in
// characters from 1.
func (r listReader) place(i int) (line, column int) {
	line, column = r.FieldPos(i)
	return line, r.characters(line, column)
}

// characters converts a column counted in bytes into one counted in characters.
func (r listReader) characters(line, column int) int {
	if line < 1 || line > len(r.lines) {
		return column
	}
	return utf8.RuneCountInString(r.lines[line-1][:min(column-1, len(r.lines[line-1]))]) + 1
}

// readList reads a whole list and returns every fault in it, in the order of the lines.
func readList(list []byte, gauge string, now time.Time) ([]listedPerson, error) {
	if err := checkEncoding(list); err != nil {
		return nil, err
	}
	if bytes.Count(list, []byte("\n")) > mostLines || bytes.Count(list, []byte(",")) > mostCommas {
		return nil,
			listFault(finding.List{badLine(1, 1,
				"The list has more than {most} people. Send it in parts.", longestList)})
	}
	r := newListReader(list)
	header, err := r.Read()
	if err != nil {
		return nil, listFault(finding.List{badLine(1, 1, "The first line has to name the columns: {columns}.",
			strings.Join(IntakeColumns, ", "))})
	}
	at, faults := r.columns(header)
	if len(faults) > 0 {
		return nil, listFault(faults)
	}
	var people []listedPerson
	for len(people) <= longestList {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *csv.ParseError
		if errors.As(err, &broken) {
			faults = append(faults, badLine(broken.Line, r.characters(broken.Line, broken.Column),
				"The line cannot be read from here on: {because}.", broken.Err))
			break
		}
		p, wrong := r.person(record, len(header), at, gauge, now)
		people, faults = append(people, p), append(faults, wrong...)
	}
	if len(people) > longestList {
		faults = finding.List{badLine(1, 1,
			"The list has more than {most} people. Send it in parts.", longestList)}
	}
	if len(faults) == 0 && len(people) == 0 {
		faults = append(faults, badLine(2, 1, "The list has nobody on it."))
	}
	if len(faults) > 0 {
		return nil, listFault(faults)
	}
	return people, nil
}

// excerpt returns the part of a field that a fault repeats.
func excerpt(field string) string {
	for n, at := 0, 0; at < len(field); n++ {
		if n == shownOf {
			return field[:at] + "…"
		}
		_, size := utf8.DecodeRuneInString(field[at:])
		at += size
	}
	return field
}

// checkEncoding returns a fault for a list in another encoding than UTF-8.
func checkEncoding(list []byte) error {
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
	return listFault(finding.List{badLine(line, column,
		"The list is not in UTF-8 from here on. Save it as \"CSV UTF-8\" and send it again.")})
}

// columns returns the index of each column, from the header that was read last.
func (r listReader) columns(header []string) (map[string]int, finding.List) {
	if len(header) == 1 {
		if i := strings.IndexAny(header[0], ";\t"); i >= 0 {
			return nil, finding.List{badLine(1, utf8.RuneCountInString(header[0][:i])+1,
				`The columns are parted by "{found}". Save the list with commas between them and send it again.`,
				header[0][i:i+1])}
		}
	}
	at := map[string]int{}
	var faults finding.List
	for i, name := range header {
		name = strings.TrimSpace(strings.ToLower(name))
		line, column := r.place(i)
		_, twice := at[name]
		switch {
		case !slices.Contains(IntakeColumns, name):
			faults = append(faults, badLine(line, column,
				`There is no column "{column}"; want {columns}.`, excerpt(name), strings.Join(IntakeColumns, ", ")))
		case twice:
			faults = append(faults, badLine(line, column, `The column "{column}" is there twice.`, name))
		}
		at[name] = i
	}
	for _, c := range IntakeColumns[:2] {
		if _, ok := at[c]; !ok {
			faults = append(faults, badLine(1, 1, `The column "{column}" is missing.`, c))
		}
	}
	return at, faults
}

// person reads the person in the line that was read last.
func (r listReader) person(record []string, fields int, at map[string]int, gauge string,
	now time.Time) (listedPerson, finding.List) {
	var faults finding.List
	if len(record) != fields {
		line, _ := r.place(0)
		return listedPerson{}, finding.List{badLine(line, 1,
			"The line has {found} fields, the first line {wanted}.", len(record), fields)}
	}
	field := func(name string) string {
		if i, ok := at[name]; ok {
			return strings.TrimSpace(record[i])
		}
		return ""
	}
	bad := func(name, template string, parts ...any) {
		line, column := r.place(at[name])
		faults = append(faults, badLine(line, column, template, parts...))
	}
	p := listedPerson{NewPerson: NewPerson{Roles: []actor.Role{actor.Student}}}
	p.line, p.column = r.place(at["name"])
	if p.Name = field("name"); p.Name == "" || utf8.RuneCountInString(p.Name) > 200 {
		bad("name", "The name has to be there, with at most 200 characters.")
	} else if wrong := wording.OneLine(p.Name); wrong != "" {
		bad("name", "The name: {because}", wrong)
	}
	birth := field("birth_on")
	born, err := time.Parse(time.DateOnly, birth)
	if p.BirthOn = born; err != nil {
		bad("birth_on", `"{found}" is no date; want one like 1994-03-21.`, excerpt(birth))
	} else if p.check(now, "") != nil {
		bad("birth_on", "{birth_on} is no birth date of a living person.", birth)
	}
	p.GaugeUnit = cmp.Or(field("gauge_unit"), gauge)
	if p.GaugeUnit != "bar" && p.GaugeUnit != "psi" {
		bad("gauge_unit", `"{found}" is no unit of a gauge; want bar or psi.`, excerpt(p.GaugeUnit))
	}
	into := []**string{&p.Email, &p.Phone, &p.EmergencyName, &p.EmergencyPhone, &p.EmergencyRelation}
	for i, name := range IntakeColumns[len(IntakeColumns)-len(into):] {
		text := field(name)
		if utf8.RuneCountInString(text) > 200 {
			bad(name, "The field {column} has more than 200 characters.", name)
		}
		if wrong := wording.OneLine(text); wrong != "" {
			bad(name, "The field {column}: {because}", name, wrong)
		}
		if text != "" {
			*into[i] = &text
		}
	}
	slices.SortStableFunc(faults, func(a, b finding.Finding) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return p, faults
}
