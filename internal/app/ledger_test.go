package app_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/ledger"
)

func TestEveryKindOfDecisionHasOneSource(t *testing.T) {
	var kinds []ledger.Kind
	for _, d := range app.Ledger().Decided {
		kinds = append(kinds, d.Kind)
	}
	require.ElementsMatch(t, ledger.Kinds, kinds)
}
