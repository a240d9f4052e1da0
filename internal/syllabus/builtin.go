package syllabus

import (
	_ "embed"
	"encoding/json"
	"fmt"
)

// entryLevel is the built-in syllabus, every figure with its source.
//
//go:embed entry_level.json
var entryLevel []byte

// BuiltIn gives the built-in entry-level syllabus, in our own words, for a
// centre to copy and change. Each call gives a copy of its own. It is a
// starting point: the training organisation's programme and local law come
// first, and the instructor in charge.
func BuiltIn() Syllabus {
	var s Syllabus
	if err := json.Unmarshal(entryLevel, &s); err != nil {
		panic(fmt.Sprintf("syllabus: the built-in syllabus: %v", err))
	}
	return s
}
