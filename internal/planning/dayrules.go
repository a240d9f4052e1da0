package planning

import "tankside/internal/finding"

// The rules that findings about somebody's sequence of dives come from, beside
// those of package nostop.
var (
	DiveNotRecorded = finding.Rule{ID: "planning.dive_not_recorded", Severity: finding.Caution, Source: ours,
		Title: "A dive that nobody recorded",
		Text: "A dive of a closed session of which nothing was recorded counts as it was planned for everybody who was there: " +
			"what nobody wrote down leaves its nitrogen all the same."}
	NoTimeOut = finding.Rule{ID: "planning.no_time_out", Severity: finding.Caution, Source: ours,
		Title: "No time out",
		Text: "A dive without a recorded time out counts as long as it was planned, or until now while its session lasts, " +
			"whichever is longer."}
)

// dayRules lists them.
func dayRules() []finding.Rule { return []finding.Rule{DiveNotRecorded, NoTimeOut} }
