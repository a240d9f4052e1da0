package fault

import (
	"fmt"
	"strings"

	"tankside/internal/finding"
)

// RefusedBy returns the refusal by the rules, with all findings, cautions and notes included.
func RefusedBy(l finding.List) *Fault {
	n := len(l.Only(finding.Forbidden))
	msg := "The rules refuse this; each finding says which limit, what was found and what would cure it."
	if n == 1 {
		msg = l.Only(finding.Forbidden)[0].Message
	}
	return New(Refused, "rules_refused", msg).With(l...)
}

// CautionsOpen returns the refusal that asks a person to accept the cautions: by the same request
// again with accept naming each rule, its subject and a reason.
func CautionsOpen(l finding.List) *Fault {
	return New(Refused, "cautions_open", "The rules allow this only if a person accepts each caution: "+
		"repeat the request with accept naming the rule, the subject and a reason.").With(l...)
}

// NoSuch returns the fault that no such thing exists in the caller's centre.
func NoSuch(what string) *Fault {
	return New(NotFound, "not_found", fmt.Sprintf("There is no such %s in your centre.", what)).
		Param("what", what)
}

// UnknownReference returns the fault that an id in the body names nothing in the centre.
func UnknownReference(what, pointer string) *Fault {
	f := unknownReference.Say("{pointer} names no {what}. Look up in your centre which is meant, and send that.",
		pointer, what)
	f.In, f.Pointer = "body", pointer
	return New(Refused, "unknown_reference", f.Message).Param("what", what).Param("pointer", pointer).With(f)
}

// IDReused returns the fault that the id was used before with another body.
func IDReused() *Fault {
	return New(Conflict, "id_reused", "This id was used before with another body. "+
		"Send the original body to get the original answer, or a new id for a new thing.")
}

// WrongState returns the fault that the thing's state does not allow the action.
func WrongState(what, state, cure string) *Fault {
	return New(Conflict, "wrong_state",
		fmt.Sprintf("The %s is %s. %s", what, strings.ReplaceAll(state, "_", " "), cure)).
		Param("what", what).Param("state", state)
}

// Changed returns the fault that the row has changed since the version that the caller named;
// present is the version now.
func Changed(present int64) *Fault {
	f := New(Stale, "stale_version",
		fmt.Sprintf(
			"It has changed since you read it, and is at version %d now. Read it again and repeat your "+
				"change on what is there.", present)).
		Param("version", present)
	f.Version = present
	return f
}

// NeedsVersion returns the fault that an edit came without If-Match.
func NeedsVersion() *Fault {
	return New(VersionMissing, "version_required",
		"Say in If-Match which version you are changing: its ETag is the version in quotes.").
		Param("header", "If-Match")
}

// MissingScope returns the fault that the token's scopes do not cover the operation.
func MissingScope(scope string) *Fault {
	return New(Forbidden, "missing_scope",
		fmt.Sprintf("Your token lacks the scope %s. A manager can issue one that has it.", scope)).
		Param("scope", scope)
}

// MissingRole returns the fault that the caller's roles do not allow the operation; need names
// those that do: "a manager".
func MissingRole(need string) *Fault {
	return New(Forbidden, "missing_role", fmt.Sprintf("This is for %s.", need)).
		Param("need", need)
}

// The rules of the contract that services find broken; internal/httpapi declares them in full.
var (
	invalidValue     = finding.Rule{ID: "contract.invalid_value", Severity: finding.Forbidden}
	unknownReference = finding.Rule{ID: "contract.unknown_reference", Severity: finding.Forbidden}
)

// Invalid returns the fault that one value in the body breaks the contract in a way that its schema
// cannot express. pointer is its place in the body (RFC 6901). The message is made of a template and
// its parts, as by finding.Rule.Say.
func Invalid(pointer, template string, parts ...any) *Fault {
	f := invalidValue.Say(template, parts...)
	f.In, f.Pointer = "body", pointer
	return New(Malformed, "invalid_request", f.Message).With(f)
}
