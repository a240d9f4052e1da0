package contract_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
)

func TestABodyIsCheckedWithoutARequest(t *testing.T) {
	require.NoError(t, contract.CheckBody("recordUnfitMark", []byte(`{"unfit_on": "2026-06-06"}`)))
	for body, pointer := range map[string]string{
		`{"unfit_on": "tomorrow"}`:                     "/unfit_on",
		`{"unfit_on": "2026-06-06", "colour": "red"}`:  "/colour",
		`{"unfit_on": "2026-06-06", "unfit_on": "no"}`: "/unfit_on",
		`{`: "",
		``:  "",
	} {
		err := contract.CheckBody("recordUnfitMark", []byte(body))
		require.ErrorIs(t, err, fault.Malformed.Err(), body)
		f, _ := fault.Of(err)
		require.NotEmpty(t, f.Findings, body)
		require.Equal(t, pointer, f.Findings[0].Pointer, body)
	}
	require.ErrorContains(t, contract.CheckBody("getCentre", nil), "takes a body")
}
