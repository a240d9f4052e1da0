//go:build !linux

package localpg

// memory returns "": only Linux has a file system in memory everywhere.
func memory() string { return "" }
