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
	Prerequisites: func(context.Context, *pg.Tx, []sessions.Entrant) (map[uuid.UUID]finding.List, error) {
		return nil, nil
	},
}

// A service that lacks a judge would let everybody into the water.
func TestNoServiceWithoutEveryJudge(t *testing.T) {
	t.Parallel()
	for name, without := range map[string]func(*sessions.Judges){
		"prerequisites": func(j *sessions.Judges) { j.Prerequisites = nil },
	} {
		judges := nothingFound
		without(&judges)
		require.Panics(t, func() { sessions.New(nil, judges) }, name)
	}
}
