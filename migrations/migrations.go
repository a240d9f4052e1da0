// Package migrations carries the database schema: pairs of SQL files that
// golang-migrate runs in order, embedded in the program.
//
// It must not know how they are run; internal/pg/migrate does that.
package migrations

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"strconv"
)

// Files are the migrations, NNNNNN_subject.up.sql and NNNNNN_subject.down.sql.
//
//go:embed *.sql
var Files embed.FS

// Hash returns a name for the schema of the up migrations: the first twelve hex digits
// of a SHA-256 over their names and contents. Databases made from the same migrations
// have the same hash, so tests name their template by it.
func Hash() string {
	h := sha256.New()
	for _, name := range ups() {
		text, err := Files.ReadFile(name)
		if err != nil {
			panic("migrations: " + err.Error()) // cannot happen: the files are embedded
		}
		h.Write([]byte(name + "\x00" + strconv.Itoa(len(text)) + "\x00"))
		h.Write(text)
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
}

// Latest returns the version of the newest migration: the schema that this program was
// written for.
func Latest() uint {
	names := ups()
	last, err := strconv.ParseUint(names[len(names)-1][:6], 10, 32)
	if err != nil {
		panic("migrations: a file name without a six-digit version: " + err.Error())
	}
	return uint(last)
}

func ups() []string {
	names, err := fs.Glob(Files, "*.up.sql")
	if err != nil {
		panic("migrations: " + err.Error())
	}
	return names // sorted, because fs.Glob reads a directory in order
}

// Before returns the version that comes before another one, 0 for none.
func Before(version uint) (before uint) {
	for _, name := range ups() {
		v, err := strconv.ParseUint(name[:6], 10, 32)
		if err == nil && uint(v) < version {
			before = uint(v)
		}
	}
	return before
}
