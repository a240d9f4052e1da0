package sessions_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/finding"
	"tankside/internal/pg"
	"tankside/internal/sessions"
)

// nothingFound are judges for tests of what sessions finds by itself.
var nothingFound = sessions.Judges{
	Outdated:     noFindings,
	PartnersAway: noFindings,
	Pressures: func(context.Context, *pg.Tx, []uuid.UUID) (sessions.PressureFindings, error) {
		return sessions.PressureFindings{}, nil
	},
	Prerequisites: func(context.Context, *pg.Tx, []sessions.Entrant) (map[uuid.UUID]finding.List, error) {
		return nil, nil
	},
}

func noFindings(context.Context, *pg.Tx, []uuid.UUID) (map[uuid.UUID]finding.List, error) {
	return nil, nil
}

// A service that lacks a judge would let everybody into the water.
func TestNoServiceWithoutEveryJudge(t *testing.T) {
	t.Parallel()
	for name, without := range map[string]func(*sessions.Judges){
		"briefings that no longer count": func(j *sessions.Judges) { j.Outdated = nil },
		"low-gas pressures":              func(j *sessions.Judges) { j.Pressures = nil },
		"partners who do not dive":       func(j *sessions.Judges) { j.PartnersAway = nil },
		"prerequisites":                  func(j *sessions.Judges) { j.Prerequisites = nil },
	} {
		judges := nothingFound
		without(&judges)
		require.Panics(t, func() { sessions.New(nil, judges) }, name)
	}
}
