// Package once makes a creation safe to repeat, by the id that the caller chose and a digest of the
// request.
//
// It must not know what is created. internal/httpapi makes a Key from a request; a service stores
// the digest beside the row, and asks the Key about a second request under the same id.
package once

import (
	"bytes"

	"github.com/google/uuid"

	"tankside/internal/fault"
)

// Key identifies one creation. Two requests with equal keys are the same request.
type Key struct {
	ID     uuid.UUID `json:"ID"`
	Digest []byte    `json:"Digest"` // SHA-256 of the operation, its path and the canonical body
}

// New returns a key for a creation by the program itself, such as a centre's first manager. No
// other request can have the same key.
func New() Key {
	id := uuid.Must(uuid.NewV7())
	return Key{ID: id, Digest: id[:]}
}

// Replays compares the request with the digest of a row that already has its id. It returns nil
// when the row came from this very request: the answer is then the row as it is now. Otherwise it
// returns the fault that the id is taken.
func (k Key) Replays(digest []byte) error {
	if bytes.Equal(k.Digest, digest) {
		return nil
	}
	return fault.IDReused()
}
