package layers_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/layers"
)

// laws are all laws that the source is read for.
var laws = []struct {
	name string
	hold func(*layers.Module) []layers.Breach
}{
	{"imports", layers.Imports},
	{"tables", layers.Tables},
	{"package comments", layers.Comments},
	{"lengths", layers.Lengths},
	{"retried", layers.Retried},
	{"faults", layers.Faults},
}

func TestTheCodeKeepsTheLaws(t *testing.T) {
	t.Parallel()
	m, err := layers.Load("../..")
	require.NoError(t, err)
	require.Equal(t, "tankside", m.Name)
	require.True(t, slices.ContainsFunc(m.Packages,
		func(p *layers.Package) bool { return p.Path == "internal/units" }))
	for _, law := range laws {
		t.Run(law.name, func(t *testing.T) {
			for _, b := range law.hold(m) {
				t.Error(b)
			}
		})
	}
}
