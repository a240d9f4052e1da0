package api

import "tankside/internal/decision"

// KeptJudgedOn is what a decision was judged on: answered in the form in which it is
// kept, with members of snake_case and quantities with their units.
type KeptJudgedOn = decision.JudgedOn
