package gasplan

import (
	"github.com/google/uuid"

	"tankside/internal/finding"
)

// Result is what comes out of an Input: stored as JSON beside it. Times are
// minutes; every figure is rounded to the safe side as its comment says.
type Result struct {
	People      []PersonResult `json:"people"` // in the order of the divers
	Group       GroupResult    `json:"group"`
	Findings    finding.List   `json:"findings"`
	Assumptions []string       `json:"assumptions"`
	RuleBooks   []RuleBook     `json:"rule_books"`
}

// RuleBook names a rule package that judged, with its version.
type RuleBook struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

// Named returns the person as a message calls them.
func (p PersonResult) Named() finding.Named {
	if p.ParticipantID == nil {
		return finding.Named{Type: "diver", ID: p.Key, Name: p.Name}
	}
	return finding.Named{Type: "participant", ID: p.ParticipantID.String(), Name: p.Name}
}

// PersonResult is one person's part, in the units that go with their gauge.
type PersonResult struct {
	Key           string       `json:"key"`
	ParticipantID *uuid.UUID   `json:"participant_id"`
	Name          string       `json:"name"`
	Start         Quantity     `json:"start"`    // once the cylinder is as warm as the water; down
	Contents      Quantity     `json:"contents"` // down
	Rate          Quantity     `json:"rate"`
	RateFrom      string       `json:"rate_from,omitempty"` // "" in plans of before it was kept
	SharesWith    string       `json:"shares_with"`         // a key
	StressedRate  Quantity     `json:"stressed_rate"`       // of both together
	AscentGas     Quantity     `json:"ascent_gas"`          // for both; up
	Low           Quantity     `json:"low"`                 // up to 100 psi or 5 bar
	LowExact      Quantity     `json:"low_exact"`           // up to a hundredth
	Turn          Quantity     `json:"turn"`                // up to 100 psi or 5 bar
	TurnExact     Quantity     `json:"turn_exact"`          // up to a hundredth
	Usable        Quantity     `json:"usable"`              // down
	BeforeTurn    Quantity     `json:"before_turn"`         // down
	AtAscent      Quantity     `json:"at_ascent"`           // expected at the start of the ascent; down to 100 psi or 10 bar
	ExpectedEnd   Quantity     `json:"expected_end"`        // down to 100 psi or 10 bar
	GasTime       Quantity     `json:"gas_time"`            // down to the minute
	TurnTime      Quantity     `json:"turn_time"`           // down to the minute
	MixMaxDepth   Quantity     `json:"mix_max_depth"`       // down
	NoStop        NoStopResult `json:"no_stop"`
}

// NoStopResult is what the no-stop tables say of one person's dive.
type NoStopResult struct {
	OutsideTables bool      `json:"outside_tables"`
	OfDay         int       `json:"of_day"`
	AscentsOfDay  int       `json:"ascents_of_day"`
	GroupBefore   string    `json:"group_before,omitempty"` // "": none
	RowFSW        int       `json:"row_fsw,omitempty"`      // 0: outside the tables
	Residual      *Quantity `json:"residual_time"`          // nil where the table has none
	Total         Quantity  `json:"total_time"`             // surface to surface, with the residual time; up
	Limit         *Quantity `json:"limit"`                  // nil: unlimited, or outside the tables
	Longest       *Quantity `json:"longest"`                // that this dive may last, surface to surface; nil as Limit
	GroupAfter    string    `json:"group_after,omitempty"`  // "": outside the tables
}

// GroupResult is what counts for all together; people are named by their keys.
type GroupResult struct {
	Limiting        string    `json:"limiting"`
	Controlling     string    `json:"controlling"`
	TurnAfter       Quantity  `json:"turn_after"`    // down to the minute
	LatestAscent    Quantity  `json:"latest_ascent"` // down to the minute
	AscentTime      Quantity  `json:"ascent_time"`   // usual ascent with its stop; up to the minute
	NoStopLimit     *Quantity `json:"no_stop_limit"` // surface to surface; nil: unlimited, or outside the tables
	NoStopLimitedBy string    `json:"no_stop_limited_by,omitempty"`
}

// WorkedSteps is a person's plan as a teacher writes it on the board.
type WorkedSteps struct {
	Key    string
	Bar    []Step // in bar, metres and litres
	PSI    []Step // in psi, feet and cubic feet
	NoStop []Step
}

// Step is one line of a calculation.
type Step struct {
	Title  string
	Text   string // numbers and words, complete in itself
	Source string // of the rule or the figure
}

// Where a rate comes from that was not learned.
const (
	NoviceRateFrom = "novice's rate"
	GivenRateFrom  = "as given"
)
