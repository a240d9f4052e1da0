// Package once has what makes a creation safe to repeat: the id that the caller
// chose and the digest of the request that it came with.
//
// It must not know what is created. internal/httpapi makes a Key from a request,
// a service stores the digest beside the row and asks the Key about a second
// request under the same id.
package once

import (
	"bytes"

	"github.com/google/uuid"

	"tankside/internal/fault"
)

// Key names one creation. Two requests with equal keys are the same request.
type Key struct {
	ID     uuid.UUID `json:"ID"`
	Digest []byte    `json:"Digest"` // SHA-256 of the operation, its path and the canonical body
}

// New gives the key of a creation that nobody else asks for again, made by the
// program itself, such as a centre's first manager.
func New() Key {
	id := uuid.Must(uuid.NewV7())
	return Key{ID: id, Digest: id[:]}
}

// Replays tells what to answer when the id is already taken by a row with the
// given digest: nil, the present row, when it was this very request; otherwise
// the fault that the id is taken.
func (k Key) Replays(digest []byte) error {
	if bytes.Equal(k.Digest, digest) {
		return nil
	}
	return fault.IDReused()
}
