package once_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/once"
)

func TestOnlyTheSameRequestReplays(t *testing.T) {
	k := once.New()
	require.NoError(t, k.Replays(k.Digest))
	require.ErrorIs(t, k.Replays(once.New().Digest), fault.Conflict.Err())
	require.ErrorIs(t, k.Replays(nil), fault.Conflict.Err())
}
