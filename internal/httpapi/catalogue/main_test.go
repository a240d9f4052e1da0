package main

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheCatalogueOfMessagesIsFresh(t *testing.T) {
	want, err := write("..", "tankside/internal/...")
	require.NoError(t, err)
	have, err := os.ReadFile("../messages.gen.go")
	require.NoError(t, err)
	require.Equal(t, string(want), string(have), "run go generate ./internal/httpapi/")
}
