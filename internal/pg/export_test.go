package pg

import "github.com/google/uuid"

// Waiting returns how many hold a connection of a centre's share or wait for one.
func (db *DB) Waiting(centre uuid.UUID) int {
	db.shares.mu.Lock()
	defer db.shares.mu.Unlock()
	if of := db.shares.taken[centre]; of != nil {
		return of.users
	}
	return 0
}
