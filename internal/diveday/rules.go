package diveday

import "tankside/internal/finding"

// The rules about how dives were recorded, beside those of package nostop about their
// sequence.
var (
	DiveNotRecorded = finding.Rule{ID: "planning.dive_not_recorded", Severity: finding.Caution, Source: "our choice",
		Title: "A dive that nobody recorded",
		Text: "A dive of a closed session of which nothing was recorded counts as it was planned for everybody " +
			"who was there: what nobody wrote down leaves its nitrogen all the same."}
	NoTimeOut = finding.Rule{ID: "planning.no_time_out", Severity: finding.Caution, Source: "our choice",
		Title: "No time out",
		Text: "A dive without a recorded time out counts as long as it was planned, or until now while its " +
			"session lasts, whichever is longer."}
)

// Rules returns the rules of this package. Their ids keep the prefix under which they
// were published.
func Rules() []finding.Rule { return []finding.Rule{DiveNotRecorded, NoTimeOut} }
