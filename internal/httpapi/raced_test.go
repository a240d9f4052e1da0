//go:build race

package httpapi_test

// raced reports whether the race detector watches, which makes everything about ten
// times as slow.
const raced = true
