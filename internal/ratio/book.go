package ratio

import "tankside/internal/units"

// Kind is the authority of a book.
type Kind string

// The kinds of book.
const (
	Law      Kind = "law"
	Practice Kind = "practice" // the requirements of training organisations for their instructors
	Standard Kind = "standard"
	Own      Kind = "own" // the centre's
)

// Status is how well the figures of a book are attested.
type Status string

// The statuses.
const (
	Seen   Status = "seen"   // the figures were read in a copy of the source
	Memory Status = "memory" // the figures are from memory
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

// Line is one rule of a book. A group is limited by all lines of all books that apply to it; the
// lowest figure counts.
type Line struct {
	Title    string // the people it is about, like "anyone aged 10 to 14"
	Settings []Setting
	Levels   []Level

	// AgeFrom and AgeTo are the ages of the students whom the line permits, both included; 0 leaves
	// that end open. A student whose age no line covers is refused. The line limits every group
	// that has a student of AgeTo or younger.
	AgeFrom, AgeTo int
	// OnlyLimits marks a line that limits a group and does not permit one: a group covered by such
	// lines alone is refused.
	OnlyLimits bool

	MinAge       int   // a younger student is forbidden; 0 for none
	Places       []int // most students without, with one, with two ... assistants
	PerAssistant int   // more for each assistant beyond the last figure; 0 adds none
	Cap          int   // the most students with any crew; 0 for none
	Young        *Mix
	MaxDepth     units.Depth // the figures hold down to this depth; 0 for any depth
	Conditions   []Condition
}

// Mix limits how the youngest students may be mixed with others.
type Mix struct {
	Below      int // a student under this age counts as young
	PerHead    int // the most young for the instructor and for each assistant
	OthersFrom int // the least age of all others in a group with a young student
}

// Cause is what a condition depends on.
type Cause string

// The causes. ByEye is for what no instrument measures, like a student's ability: such a condition
// always applies and a person has to judge it.
const (
	ByEye      Cause = ""
	Visibility Cause = "visibility"
	Current    Cause = "current"
	Cold       Cause = "cold"
)

// Condition is a further condition of a line. With a figure it takes places away while its cause is
// present; the figures of several causes add up. Without a figure it is a caution, because a person
// has to decide.
type Condition struct {
	Text   string
	Cause  Cause
	Beyond units.Reading // visibility below, current above, water below this; zero: ISO 24801-3's
	Fewer  int           // students fewer; 0 when the book has no figure
}

// cite returns the book's title, edition and source, for a finding.
func (b *Book) cite() string {
	s := b.Title + " (version " + b.Version + "): " + b.Source
	if b.Status == Memory {
		s += " (figures from memory)"
	}
	return s
}
