package journal

import (
	"time"

	"github.com/google/uuid"
)

// Item is what one entry says, as a device kept it. Each kind has a type of its own.
// Its JSON is the stored form of the kind: digests are taken over it, and entries that
// wait are kept in it. So every member is named by a tag, and a name in a tag never
// changes; a member that is added is left out where it is empty (omitempty, omitzero),
// so that what devices sent before stays the same entry.
type Item interface {
	// Times returns the times of the item by the device's clock, to be corrected in
	// place. The first is when it was witnessed, or signed.
	Times() []*time.Time
	// Digest returns the SHA-256 of what the item says of the session, dive or outing
	// that the entry names: one digest for a post of its own and for a batch.
	Digest(of uuid.UUID) []byte
	// Names returns the things that the item names, whose coming or changing may let
	// the entry stand. The place that the entry itself names is not among them.
	Names() []Ref
}

// Form is the form of the items that are written today. One that is read in an older
// form is brought to this one by its kind.
const Form = 1

// Thing is a kind of thing that an entry may name.
type Thing string

// The kinds of thing that entries name and wait for, as the database's triggers call
// them.
const (
	ASession     Thing = "session"
	ADive        Thing = "dive"
	AnOuting     Thing = "outing"
	AGroup       Thing = "group"
	AParticipant Thing = "participant"
	APerson      Thing = "person"
	AnEnrolment  Thing = "enrolment"
	AnEntry      Thing = "entry"
)

// Ref names a thing by its kind and id.
type Ref struct {
	Kind Thing     `json:"kind"`
	ID   uuid.UUID `json:"id"`
}

// Named returns references to those of the ids that are given.
func Named(kind Thing, ids ...*uuid.UUID) []Ref {
	var out []Ref
	for _, id := range ids {
		if id != nil && *id != uuid.Nil {
			out = append(out, Ref{kind, *id})
		}
	}
	return out
}
