package training_test

import (
	"context"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/dayview"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
	"tankside/internal/training"
	"tankside/internal/units"
	"tankside/internal/versions"
)

// nothingFound are judges for tests of what training finds by itself.
var nothingFound = training.Judges{
	TimesIn: func(context.Context, *pg.Tx, dayview.View, []training.InWater) (map[uuid.UUID]training.Against,
		error) {
		return nil, nil
	},
	Rates: func(context.Context, *pg.Tx, []uuid.UUID) (map[uuid.UUID]units.Rate, error) { return nil, nil },
}

// A service that lacks a judge would find nothing.
func TestNoServiceWithoutEveryJudge(t *testing.T) {
	t.Parallel()
	for name, without := range map[string]func(*training.Judges){
		"times in":        func(j *training.Judges) { j.TimesIn = nil },
		"breathing rates": func(j *training.Judges) { j.Rates = nil },
	} {
		judges := nothingFound
		without(&judges)
		require.Panics(t, func() { training.New(nil, versions.New[syllabus.Syllabus](), judges) }, name)
	}
}
