package sheet

import "unicode/utf8"

// How much of an A4 page findings and accepted cautions may take, in heights of its
// text, and how a plan's sheet makes room for more: first all type is smaller, then
// the drawings are left to the screen. No finding is left out. Measured by printing
// with a wide typeface; see the test.
const (
	perLine        = 135 // characters of a finding on one line of the smaller text
	roomy          = 12.0
	roomOfFew      = 40.0 // beside the table and the drawings
	roomOfMany     = 33.0
	roomOfCrowd    = 49.0
	perPersonInRow = 1.75 // the height that each person of a crowd takes of it
)

// setting returns how a sheet is set on paper: "" for as usual, "tight", or "tight
// bare" without its drawings.
func (c planContent) setting() string {
	room := roomOfFew
	switch c.Size {
	case "many":
		room = roomOfMany
	case "crowd":
		room = roomOfCrowd - perPersonInRow*float64(len(c.People))
	}
	switch says := c.height(); {
	case says <= roomy:
		return ""
	case says <= room:
		return "tight"
	}
	return "tight bare"
}

// height returns an estimate of the height of the findings and accepted cautions.
func (c planContent) height() (sum float64) {
	for _, f := range c.Findings {
		n := utf8.RuneCountInString(string(f.Severity) + f.Message)
		for _, cure := range f.Cures {
			n += utf8.RuneCountInString(cure.Message) + 4
		}
		sum += 0.42 + 1.22*float64(1+n/perLine) // a frame, and lines
	}
	for _, a := range c.Accepted {
		sum += 1.05 * float64(1+utf8.RuneCountInString(a.Label+a.Value)/perLine)
	}
	return sum
}
