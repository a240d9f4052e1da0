package httpapi

import "tankside/internal/finding"

const ours = "our choice; see the contract at /openapi.yaml"

// The rules of the contract itself, for what its schemas refuse.
var (
	invalidValue = finding.Rule{
		ID: "contract.invalid_value", Title: "Invalid value", Severity: finding.Forbidden, Source: ours,
		Text: "A value has the type, the form and the bounds that the contract gives for it.",
	}
	unknownMember = finding.Rule{
		ID: "contract.unknown_member", Title: "Unknown member", Severity: finding.Forbidden, Source: ours,
		Text: "A request has only the members that its operation lists; a misspelt one is refused and not passed over.",
	}
	missingMember = finding.Rule{
		ID: "contract.missing_member", Title: "Missing member", Severity: finding.Forbidden, Source: ours,
		Text: "A request has every member that its operation requires.",
	}
	memberTwice = finding.Rule{
		ID: "contract.member_twice", Title: "Member given twice", Severity: finding.Forbidden, Source: "RFC 8259, section 4",
		Text: "The names within a JSON object are unique; otherwise readers disagree about which one counts.",
	}
	badJSON = finding.Rule{
		ID: "contract.bad_json", Title: "Not JSON", Severity: finding.Forbidden, Source: "RFC 8259",
		Text: "A JSON body is one JSON value and nothing else.",
	}
	badText = finding.Rule{
		ID: "contract.bad_text", Title: "Text that cannot be kept", Severity: finding.Forbidden, Source: ours,
		Text: "Text is UTF-8 without U+0000.",
	}
	badWording = finding.Rule{
		ID: "contract.bad_wording", Title: "Text that could mislead whoever reads it", Severity: finding.Forbidden,
		Source: "our choice; Unicode Standard Annexes 9 and 14 for the characters",
		Text: "A name and every other text of one line has no control characters, no line breaks and no characters that turn the direction of writing, and has one that can be seen. " +
			"Texts of several lines, which the contract names, may have line feeds and tabs.",
	}
	noBody = finding.Rule{
		ID: "contract.no_body", Title: "No body", Severity: finding.Forbidden, Source: ours,
		Text: "An operation that requires a body gets one.",
	}
	unknownParameter = finding.Rule{
		ID: "contract.unknown_parameter", Title: "Unknown parameter", Severity: finding.Forbidden, Source: ours,
		Text: "A request has only the query parameters that its operation lists; a misspelt filter must not answer everything.",
	}
	badQuery = finding.Rule{
		ID: "contract.bad_query", Title: "A query that cannot be read whole", Severity: finding.Forbidden, Source: ours,
		Text: "A query is taken whole or not at all: of one that is read in part, a filter or dry_run could be lost.",
	}
	furtherBreaches = finding.Rule{
		ID: "contract.more", Title: "More than is told", Severity: finding.Forbidden, Source: ours,
		Text: "What breaks the contract is told up to 20 findings; one more says that there are more.",
	}
	unknownReference = finding.Rule{
		ID: "contract.unknown_reference", Title: "Unknown id", Severity: finding.Forbidden, Source: ours,
		Text: "An id in a body names something in the caller's centre.",
	}
)

// ContractRules lists the rules of the contract itself.
func ContractRules() []finding.Rule {
	return []finding.Rule{invalidValue, unknownMember, missingMember, memberTwice, badJSON, badText, badWording,
		noBody, unknownParameter, badQuery, furtherBreaches, unknownReference}
}
