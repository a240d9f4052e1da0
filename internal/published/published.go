// Package published reads the figures that others printed and that tests are held against:
// the files of testdata/published, whose README.md names their sources.
//
// It owns the form of those files. A file that is missing, or a row that does not read,
// fails the test that asked. It must not know how the service calculates: its rows are plain
// numbers in the unit that their name has, so that a test of package units, too, holds the
// code against something that the code had no part in. Only tests import it.
package published

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Files returns the directory testdata/published of this module. It is found from the working
// directory, which for a test is the directory of its package.
func Files(t testing.TB) fs.FS {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return os.DirFS(filepath.Join(dir, "testdata", "published"))
		}
		above := filepath.Dir(dir)
		if above == dir {
			t.Fatal("published: no go.mod in the working directory or above it")
		}
		dir = above
	}
}

// rows returns a file's rows, read by one, and fails the test where a row does not read.
func rows[T any](t testing.TB, name, columns string, one func(*record) T) []T {
	t.Helper()
	out, err := read(Files(t), name, columns, one)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// read returns a file's rows, read by one. Columns are the column names that the file has to
// have, in that order. The error names every fault of every row, with its line and column.
func read[T any](from fs.FS, name, columns string, one func(*record) T) ([]T, error) {
	f, err := from.Open(name)
	if err != nil {
		return nil, fmt.Errorf("published: %w", err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	head, err := r.Read()
	if err != nil {
		return nil, fmt.Errorf("published: %s: %w", name, err)
	}
	want := strings.Split(columns, ",")
	if !slices.Equal(head, want) {
		return nil, fmt.Errorf("published: %s: found columns %q, must be %q", name, head, want)
	}
	var out []T
	var faults []error
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("published: %s: %w", name, err)
		}
		line, _ := r.FieldPos(0)
		rec := &record{head: head, cells: cells}
		out = append(out, one(rec))
		for _, fault := range rec.faults {
			faults = append(faults, fmt.Errorf("published: %s, line %d, %w", name, line, fault))
		}
	}
	if len(out) == 0 {
		faults = append(faults, fmt.Errorf("published: %s has no rows", name))
	}
	return out, errors.Join(faults...)
}

// record is one row while it is read. It keeps what does not read.
type record struct {
	head, cells []string
	faults      []error
}

func (r *record) fault(column, format string, args ...any) {
	r.faults = append(r.faults, fmt.Errorf("column %s: "+format, append([]any{column}, args...)...))
}

// maybe returns the text of a column, "" where the source has nothing.
func (r *record) maybe(column string) string {
	return strings.TrimSpace(r.cells[slices.Index(r.head, column)])
}

// text returns the text of a column, which must not be empty.
func (r *record) text(column string) string {
	s := r.maybe(column)
	if s == "" {
		r.fault(column, "found nothing, must have a text")
	}
	return s
}

// number returns the number of a column.
func (r *record) number(column string) float64 {
	s := r.maybe(column)
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		r.fault(column, "found %q, must be a number", s)
	}
	return x
}

// maybeNumber returns the number of a column, 0 where the source has none.
func (r *record) maybeNumber(column string) float64 {
	if r.maybe(column) == "" {
		return 0
	}
	return r.number(column)
}

// whole returns the whole number of a column, which is not below 0.
func (r *record) whole(column string) int {
	n, ok := wholeNumber(r.maybe(column))
	if !ok {
		r.fault(column, "found %q, must be a whole number, not below 0", r.maybe(column))
	}
	return n
}

// wholes returns the whole numbers of a column, parted by spaces. There is at least one.
func (r *record) wholes(column string) []int {
	var out []int
	for _, s := range strings.Fields(r.text(column)) {
		n, ok := wholeNumber(s)
		if !ok {
			r.fault(column, "found %q, must be whole numbers, not below 0", s)
		}
		out = append(out, n)
	}
	return out
}

func wholeNumber(s string) (int, bool) {
	n, err := strconv.Atoi(s)
	return n, err == nil && n >= 0
}

// oneOf returns the text of a column, which must be one of the words.
func (r *record) oneOf(column string, words ...string) string {
	s := r.maybe(column)
	if !slices.Contains(words, s) {
		r.fault(column, "found %q, must be one of %q", s, words)
	}
	return s
}
