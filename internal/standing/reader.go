// Package standing reads what enrolments have reached: skills signed off, attempts, theory,
// training dives and credits, by the syllabus of their course; and it judges, with package
// syllabus, whether that lets students get into the water of a session.
//
// It owns no table and writes none. It must not know why it is asked: an opening, a time
// in, a sign-off and a completion judge by the same standing.
package standing

import (
	"tankside/internal/syllabus"
	"tankside/internal/versions"
)

// Reader reads what enrolments have reached. It keeps the syllabuses that it reads in a
// cache.
type Reader struct {
	syllabuses *versions.Cache[syllabus.Syllabus]
}

// New returns a reader of standings with a cache of syllabuses.
func New(syllabuses *versions.Cache[syllabus.Syllabus]) *Reader {
	return &Reader{syllabuses: syllabuses}
}
