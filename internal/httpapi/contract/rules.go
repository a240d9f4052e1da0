package contract

import "tankside/internal/finding"

const ours = "our choice; see the contract at /openapi.yaml"

// The rules of the contract itself, for what its schemas refuse.
var (
	InvalidValue = finding.Rule{
		ID: "contract.invalid_value", Title: "Invalid value", Severity: finding.Forbidden, Source: ours,
		Text: "A value is one that its operation takes, also where a schema cannot express it.",
	}
	required = finding.Rule{
		ID: "contract.required", Title: "Missing member", Severity: finding.Forbidden, Source: ours,
		Text: "A request has every member and parameter that its operation requires.",
	}
	unknownMember = finding.Rule{
		ID: "contract.unknown_member", Title: "Unknown member", Severity: finding.Forbidden, Source: ours,
		Text: "A request has only the members that its operation lists. A misspelt member is refused.",
	}
	wrongType = finding.Rule{
		ID: "contract.type", Title: "Wrong type", Severity: finding.Forbidden, Source: ours,
		Text: "A value has the type that the contract gives for it: a text, a number, a list, an object.",
	}
	notAllowed = finding.Rule{
		ID: "contract.enum", Title: "Not one of the values", Severity: finding.Forbidden, Source: ours,
		Text: "A value with a list of allowed values is one of them.",
	}
	outOfRange = finding.Rule{
		ID: "contract.range", Title: "Out of range", Severity: finding.Forbidden, Source: ours,
		Text: "A number is within the bounds that the contract gives for it.",
	}
	tooExact = finding.Rule{
		ID: "contract.step", Title: "Too many decimals", Severity: finding.Forbidden, Source: ours,
		Text: "A number is a multiple of the step that the contract gives for it.",
	}
	wrongLength = finding.Rule{
		ID: "contract.length", Title: "Too short or too long", Severity: finding.Forbidden, Source: ours,
		Text: "A text has as many characters as the contract allows.",
	}
	wrongCount = finding.Rule{
		ID: "contract.count", Title: "Too few or too many", Severity: finding.Forbidden, Source: ours,
		Text: "A list has as many items, and an object as many members, as the contract allows.",
	}
	notUnique = finding.Rule{
		ID: "contract.not_unique", Title: "Twice in the list", Severity: finding.Forbidden, Source: ours,
		Text: "A list in which each item may stand once has no item twice.",
	}
	wrongPattern = finding.Rule{
		ID: "contract.pattern", Title: "Not written as asked", Severity: finding.Forbidden, Source: ours,
		Text: "A text matches the pattern that the contract gives for it.",
	}
	wrongFormat = finding.Rule{
		ID: "contract.format", Title: "Not in the format", Severity: finding.Forbidden, Source: ours,
		Text: "An id, a date or an instant is written in the format that the contract gives for it.",
	}
	reservedID = finding.Rule{
		ID: "contract.reserved_id", Title: "An id that means none", Severity: finding.Forbidden,
		Source: "RFC 9562, sections 5.9 and 5.10",
		Text:   "An id is not the UUID of all zeros or all ones.",
	}
	memberTwice = finding.Rule{
		ID: "contract.member_twice", Title: "Member given twice", Severity: finding.Forbidden,
		Source: "RFC 8259, section 4",
		Text:   "The names within a JSON object are unique; otherwise readers disagree about which one counts.",
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
		ID: "contract.bad_wording", Title: "Text that could mislead its reader", Severity: finding.Forbidden,
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
		ID: "contract.bad_query", Title: "A query that cannot be read whole", Severity: finding.Forbidden,
		Source: ours,
		Text:   "A query is taken whole or not at all: of one that is read in part, a filter or dry_run could be lost.",
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

// Rules lists the rules of the contract itself.
func Rules() []finding.Rule {
	return []finding.Rule{InvalidValue, required, unknownMember, wrongType, notAllowed, outOfRange, tooExact,
		wrongLength, wrongCount, notUnique, wrongPattern, wrongFormat, reservedID,
		memberTwice, badJSON, badText, badWording, noBody, unknownParameter, badQuery, furtherBreaches, unknownReference}
}
