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

// A built-in syllabus that its own rules refuse must not start.
func init() {
	if found := Validate(BuiltIn()); len(found) > 0 {
		panic(fmt.Sprintf("syllabus: the built-in syllabus: %s: %s", found[0].Pointer, found[0].Message))
	}
}

// BuiltIn returns the built-in entry-level syllabus, in our own words, for a centre to copy and
// change. Each call returns its own copy. It is a starting point: the training organisation's
// programme, local law and the instructor in charge come first.
func BuiltIn() Syllabus {
	var s Syllabus
	if err := json.Unmarshal(entryLevel, &s); err != nil {
		panic(fmt.Sprintf("syllabus: the built-in syllabus: %v", err))
	}
	return s
}
