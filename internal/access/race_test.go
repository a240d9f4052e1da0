package access_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/once"
	"tankside/internal/scenetest"
)

type bench struct {
	*scenetest.Fixture
	access *access.Service
	by     actor.Actor // of the manager, who is an instructor too
}

func newBench(t *testing.T) *bench {
	t.Helper()
	t.Parallel()
	s := scenetest.New(t)
	s.Clock(time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC))
	return &bench{Fixture: s, access: access.New(s.DB.DB), by: s.As(s.Manager)}
}

// Once revoking was answered, the token opens nothing, however many requests
// use it at that moment; none of them meets anything but "no valid token".
func TestATokenRevokedWhileItIsUsed(t *testing.T) {
	b := newBench(t)
	issued, _, err := b.access.IssueToken(t.Context(), b.by,
		access.NewToken{Key: once.New(), Program: new("booking page"),
			Scopes: []actor.Scope{access.CoursesRead}})
	require.NoError(t, err)
	revoked := make(chan struct{})
	late := make([]bool, 9)
	errs := scenetest.Concurrently(9, func(i int) error {
		if i == 0 {
			time.Sleep(20 * time.Millisecond)
			_, err := b.access.RevokeToken(t.Context(), b.by, issued.ID)
			close(revoked)
			return err
		}
		for {
			select {
			case <-revoked:
				_, err := b.access.Authenticate(t.Context(), issued.Secret)
				late[i] = err == nil
				return err
			default:
				if _, err := b.access.Authenticate(t.Context(), issued.Secret); err != nil &&
					fault.KindOf(err) != fault.Unauthenticated {
					return fmt.Errorf("while it was revoked: %w", err)
				}
			}
		}
	})
	require.NoError(t, errs[0])
	for i, err := range errs[1:] {
		require.ErrorIs(t, err, fault.Unauthenticated.Err(), "user %d", i)
	}
	require.NotContains(t, late, true, "revoked is revoked")
	again, err := b.access.RevokeToken(t.Context(), b.by, issued.ID)
	require.NoError(t, err, "again does no harm")
	require.NotNil(t, again.RevokedAt)
}
