package fault_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/fault"
	"tankside/internal/finding"
)

func TestKindSurvivesWrapping(t *testing.T) {
	cause := errors.New("row 7")
	err := fmt.Errorf("place student: %w", fault.NoSuch("session").Because(cause))
	require.ErrorIs(t, err, fault.NotFound.Err())
	require.NotErrorIs(t, err, fault.Conflict.Err())
	require.ErrorIs(t, err, cause)
	require.Equal(t, fault.NotFound, fault.KindOf(err))
	require.Equal(t, fault.Internal, fault.KindOf(cause))
}

func TestWithDoesNotTouchTheOriginal(t *testing.T) {
	base := fault.New(fault.Refused, "x", "y")
	a := base.With(finding.Finding{Rule: "a"})
	b := a.With(finding.Finding{Rule: "b"})
	require.Empty(t, base.Findings)
	require.Len(t, a.Findings, 1)
	require.Len(t, b.Findings, 2)
}

func TestOneForbiddenFindingSpeaksForItself(t *testing.T) {
	f := fault.RefusedBy(finding.List{
		{Severity: finding.Note, Message: "by the way"},
		{Severity: finding.Forbidden, Message: "nine students are too many"}})
	require.Equal(t, "nine students are too many", f.Message)
	require.Len(t, f.Findings, 2)
}

func TestAFaultIsFoundWhereverItIsWrapped(t *testing.T) {
	f := fault.NoSuch("session")
	for _, err := range []error{f, fmt.Errorf("place: %w", f),
		errors.Join(errors.New("row 7"), fmt.Errorf("place: %w", f))} {
		got, found := fault.Of(err)
		require.True(t, found)
		require.Same(t, f, got)
	}
	_, found := fault.Of(errors.New("row 7"))
	require.False(t, found)
	_, found = fault.Of(nil)
	require.False(t, found)
}
