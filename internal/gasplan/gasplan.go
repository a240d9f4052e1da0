// Package gasplan works out the gas plan of a group: what is asked for with what is
// known of the dive and the divers goes in, each person's pressures and times with
// every finding come out, gas by package gas and no-stop time by package nostop. It
// also has the settings by which a centre plans gas, and says which are possible.
//
// It is pure, and the JSON of its Input and Result is what plans are stored in. It
// must not know a session, a person's papers or a row: packages that plan fill in
// what a session says.
package gasplan

import "tankside/internal/finding"

// Rules returns the rules of this package. Their ids keep the prefix under which
// other programs know them.
func Rules() []finding.Rule { return []finding.Rule{NotPossible} }
