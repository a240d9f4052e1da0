package planning

import (
	"slices"

	"tankside/internal/finding"
)

// ours is the source of what nobody else says.
const ours = "our choice"

// Rules lists the rules of this package, for people to read.
func Rules() []finding.Rule {
	return slices.Concat(planRules(), briefingRules(), lowGasRules())
}
