package app

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The log and the command line name the same release: what deploy/build sets.
func TestReleaseIsWhatTheBuildSets(t *testing.T) {
	require.NotEmpty(t, Release())
	before := Version
	t.Cleanup(func() { Version = before })
	Version = "2026.11"
	require.Equal(t, "2026.11", Release())
}
