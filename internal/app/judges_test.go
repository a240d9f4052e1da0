package app_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/pg/pgtest"
	"tankside/internal/sessions"
	"tankside/internal/training"
)

// A judge of safety that nobody named is no judge that found nothing: a service
// without one does not start, and does not work.
func TestAServiceWithoutItsJudgesDoesNotWork(t *testing.T) {
	db := pgtest.New(t)
	require.Panics(t, sessions.New(db.DB).MustJudge)
	require.Panics(t, training.New(db.DB).MustJudge)
	require.NotPanics(t, func() { app.NewServices(db.DB) })
}
