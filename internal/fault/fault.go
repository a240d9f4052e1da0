// Package fault is the one vocabulary of errors that a caller is meant to see: a kind, a stable
// code, a message that is safe to show, findings, and a hidden cause for the log.
//
// It must not know HTTP or SQL: internal/httpapi maps each kind to a status, and internal/pg maps
// each constraint to a fault.
package fault

import (
	"errors"
	"maps"

	"tankside/internal/finding"
)

// Kind is the sort of fault.
type Kind int

// The kinds. Each maps to one status in internal/httpapi, and nowhere else.
const (
	Internal        Kind = iota // a defect of ours, or of the machine
	Malformed                   // the request breaks the contract
	Unauthenticated             // no valid token came with the request
	Forbidden                   // the caller may see it, and may not do it
	NotFound                    // unknown, or another centre's
	Conflict                    // the wrong state, or a clash of ids
	Stale                       // the version named is not the present one
	TooLarge                    // the body exceeds the limit
	Unsupported                 // the operation does not accept the media type
	Refused                     // the rules refuse it, or an id in the body is unknown
	VersionMissing              // an edit came without the version it edits
	TooMany                     // the rate limit is exceeded
	Unavailable                 // temporarily not available; retry later
	Gone                        // what the caller holds, such as a cursor, is no longer valid
)

// Kinds lists every kind, for tests that walk them all.
var Kinds = []Kind{Internal, Malformed, Unauthenticated, Forbidden, NotFound, Conflict, Stale,
	TooLarge, Unsupported, Refused, VersionMissing, TooMany, Unavailable, Gone}

// Fault is an error for the caller. Message is for the person. The Error text is for logs and
// carries the cause.
type Fault struct {
	Kind     Kind
	Code     string         // stable, like "rules_refused"; clients branch on it
	Message  string         // what was wrong, what was found, what would cure it
	Params   map[string]any // the parts of the message by name, to translate from; see finding.Param
	Findings finding.List
	Version  int64 // of the present row, with Stale
	Cause    error // never shown to the caller
}

// Error returns the code, the message and the hidden cause. It is for logs only.
func (f *Fault) Error() string {
	s := f.Code + ": " + f.Message
	if f.Cause != nil {
		s += ": " + f.Cause.Error()
	}
	return s
}

// Unwrap returns the hidden cause.
func (f *Fault) Unwrap() error { return f.Cause }

// Is reports whether the target is the fault's kind, so that errors.Is matches
// fault.NotFound.Err().
func (f *Fault) Is(target error) bool {
	k, ok := target.(kindError)
	return ok && f.Kind == Kind(k)
}

type kindError Kind

func (k kindError) Error() string { return "fault kind" }

// Err returns an error to match with errors.Is(err, fault.NotFound.Err()).
func (k Kind) Err() error { return kindError(k) }

// New returns a fault of a kind with its stable code and a message for people.
func New(k Kind, code, message string) *Fault {
	return &Fault{Kind: k, Code: code, Message: message}
}

// With returns a copy that carries findings.
func (f *Fault) With(l ...finding.Finding) *Fault {
	c := *f
	c.Findings = append(append(finding.List(nil), c.Findings...), l...)
	return &c
}

// Param returns a copy that keeps a part of the message by its name.
func (f *Fault) Param(name string, part any) *Fault {
	c := *f
	c.Params = maps.Clone(c.Params)
	if c.Params == nil {
		c.Params = map[string]any{}
	}
	c.Params[name] = finding.Param(part)
	return &c
}

// InSession returns a copy whose findings name a session among their subjects.
func (f *Fault) InSession(id string) *Fault {
	c := *f
	c.Findings = f.Findings.InSession(id)
	return &c
}

// Because returns a copy that carries a cause for the log.
func (f *Fault) Because(err error) *Fault {
	c := *f
	c.Cause = err
	return &c
}

// Of returns the first fault in err's chain, and whether there is one.
func Of(err error) (*Fault, bool) {
	var f *Fault
	found := errors.As(err, &f)
	return f, found
}

// KindOf returns the kind of the first fault in err's chain, Internal if none.
func KindOf(err error) Kind {
	if f, found := Of(err); found {
		return f.Kind
	}
	return Internal
}
