package config_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"tankside/internal/config"
)

func TestTheReadmeListsEverySetting(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for _, v := range config.Variables() {
		require.Contains(t, string(readme), fmt.Sprintf("| `%s` | %s | %s |\n", v.Name, v.Default, v.Meaning))
	}
}
