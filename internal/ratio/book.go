package ratio

import "tankside/internal/units"

// Kind says what authority a book has.
type Kind string

// The kinds of book.
const (
	Law      Kind = "law"
	Practice Kind = "practice" // what training organisations ask of their instructors
	Standard Kind = "standard"
	Own      Kind = "own" // the centre's
)

// Status says how well the figures of a book are attested.
type Status string

// The statuses.
const (
	Seen   Status = "seen"   // the figures were read in a copy of the source
	Memory Status = "memory" // they were not
	Set    Status = "set"    // the centre set them
)

// Book is a rule book: a law, a practice, a standard or the centre's own.
type Book struct {
	ID           string // stable, like "general-open"
	Title        string
	Kind         Kind
	Jurisdiction string // where a law is in force; empty for other kinds
	Source       string
	Status       Status
	Version      string // changes whenever a line does
	Lines        []Line
}

// Line is one rule of a book. All lines that concern a group limit it, in
// every book; the lowest figure counts.
type Line struct {
	Title    string // whom it is about, like "anyone aged 10 to 14"
	Settings []Setting
	Levels   []Level

	// AgeFrom and AgeTo are the ages, both included, that the line speaks of;
	// 0 leaves that end open. A student of whose age no line speaks is refused.
	// The line limits every group with anybody of AgeTo or younger in it.
	AgeFrom, AgeTo int
	// OnlyLimits is for a line that holds a group down but is no permission by
	// itself: a group of which only such lines speak is refused.
	OnlyLimits bool

	MinAge       int   // anybody younger is forbidden; 0 for none
	Places       []int // students without, with one, with two ... assistants
	PerAssistant int   // more for each assistant beyond the last figure; 0 adds none
	Cap          int   // never more, whatever the crew; 0 for none
	Young        *Mix
	MaxDepth     units.Depth // the figures hold down to here; 0 for any depth
	Conditions   []Condition
}

// Mix limits how the youngest may be mixed with others.
type Mix struct {
	Below      int // who counts as young: anybody under this age
	PerHead    int // at most so many of them for the instructor and each assistant
	OthersFrom int // with any of them there, nobody else may be younger than this
}

// Cause is what brings a condition about.
type Cause string

// The causes. ByEye is for what no instrument tells, like a student's ability:
// such a condition always stands and somebody has to judge it.
const (
	ByEye      Cause = ""
	Visibility Cause = "visibility"
	Current    Cause = "current"
	Cold       Cause = "cold"
)

// Condition is what else a line asks for. With a figure it takes places away
// while its cause is there (those of several causes add up); without one it is
// a caution, because somebody has to decide.
type Condition struct {
	Text   string
	Cause  Cause
	Beyond units.Reading // visibility below, current above, water below this; zero: as in ISO 24801-3
	Fewer  int           // so many students fewer; 0 when the book gives no figure
}

// cite names the book with its edition and source, for a finding.
func (b *Book) cite() string {
	s := b.Title + " (version " + b.Version + "): " + b.Source
	if b.Status == Memory {
		s += " (figures from memory)"
	}
	return s
}
