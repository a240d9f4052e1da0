package access

import "tankside/internal/finding"

// The rules about tokens.
var (
	ScopeBeyondRole = finding.Rule{
		ID: "people.scope_beyond_role", Title: "A scope beyond the role", Severity: finding.Forbidden,
		Source: "our choice",
		Text: "A token carries no scope that none of its holder's roles may have. Programs never sign off, " +
			"record papers, change signals, issue tokens or change the centre.",
	}
	ExpiryOutOfRange = finding.Rule{
		ID: "people.expiry_out_of_range", Title: "Expires too soon or too late", Severity: finding.Forbidden,
		Source: "our choice",
		Text: "A token expires in the future and within 366 days, by the real clock even in a demo centre: " +
			"one season and the renewal before the next.",
	}
)

// Rules returns the rules of this package. Their ids keep the prefix under which
// other programs know them.
func Rules() []finding.Rule { return []finding.Rule{ScopeBeyondRole, ExpiryOutOfRange} }
