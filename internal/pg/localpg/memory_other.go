//go:build !linux

package localpg

// memory is a file system in memory; only Linux has one everywhere.
func memory() string { return "" }
