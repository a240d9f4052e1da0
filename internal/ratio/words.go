package ratio

import (
	"strconv"

	"tankside/internal/finding"
)

// count returns a number with its noun: "1 student", "9 students".
func count(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return strconv.Itoa(n) + " " + noun
}

func students(n int) string { return count(n, "student") }

// amount returns n things as a finding's amount: "1 student", "9 students".
func amount(n int, noun string) *finding.Amount {
	a := finding.Count(n, noun+"s")
	a.Text = count(n, noun)
	return a
}

// assistantsOf returns the assistants of a group as a part of a message: "no assistant", "2 assistants".
func assistantsOf(g *Group) finding.Amount {
	n := max(g.Assistants, 0)
	a := amount(n, "assistant")
	if n == 0 {
		a.Text = "no assistant"
	}
	return *a
}

func levelWords(l Level) string {
	switch l {
	case Introductory:
		return "an introductory dive"
	case EntryLevel:
		return "entry-level training"
	case Supervised:
		return "supervised divers"
	case Guided:
		return "guided divers"
	}
	return strconv.Quote(string(l))
}
