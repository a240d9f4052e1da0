package sessions_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/sessions"
)

// A service that does not know what was learned would let everybody into the water.
func TestNoServiceWithoutStandings(t *testing.T) {
	t.Parallel()
	require.Panics(t, func() { sessions.New(nil, nil) })
}
