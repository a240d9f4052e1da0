package httpapi_test

import (
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/api"
	"tankside/internal/desk"
	"tankside/internal/ratio"
)

// generatedClient generates a client of all operations from the published contract,
// as a stranger would, compiles it with the story in testdata/client, and returns the
// program.
func generatedClient(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	run := func(name string, args ...string) {
		t.Helper()
		out, err := exec.CommandContext(t.Context(), name, args...).CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	document, source := filepath.Join(dir, "openapi.json"), filepath.Join(dir, "client.gen.go")
	require.NoError(t, os.WriteFile(document, api.JSON(), 0o600))
	run("go", "tool", "oapi-codegen", "-config", "testdata/client/oapi.yaml", "-o", source, document)
	stories, err := filepath.Glob("testdata/client/*.go")
	require.NoError(t, err)
	files := []string{source}
	for _, path := range stories {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		files = append(files, filepath.Join(dir, filepath.Base(path)))
		require.NoError(t, os.WriteFile(files[len(files)-1], text, 0o600))
	}
	program := filepath.Join(dir, "client")
	run("go", append([]string{"build", "-o", program}, files...)...)
	return program
}

// The types of the published contract are those that a program has which was written
// against it alone: the client compiles, and plays the weekend of the demo by typed
// calls. The story's people, places and readings are the demo's (internal/demo/scenario).
func TestAGeneratedClientPlaysTheWeekend(t *testing.T) {
	program := generatedClient(t)
	s := open(t)
	born := time.Date(1979, 4, 2, 0, 0, 0, 0, time.UTC)
	n := desk.NewCentre{Demo: true, Manager: "Mara Quill", ManagerBirthOn: born}
	n.Name, n.TimeZone, n.GaugeUnit, n.AgeOfMajority = "Kelp Point Diving", "Europe/Lisbon", "bar", 18
	n.RuleBooks = ratio.GeneralPractice()
	_, manager, err := desk.CreateCentre(t.Context(), s.DB.DB, n)
	require.NoError(t, err)
	server := httptest.NewServer(s.handler)
	defer server.Close()
	story := exec.CommandContext(t.Context(), program)
	story.Env = []string{"SERVER=" + server.URL, "TOKEN=" + manager.Secret, "SCENARIO=../demo/scenario"}
	out, err := story.CombinedOutput()
	require.NoError(t, err, "%s", out)
	want, err := os.ReadFile("testdata/client/story.txt")
	require.NoError(t, err)
	require.Equal(t, string(want), string(out))
}
