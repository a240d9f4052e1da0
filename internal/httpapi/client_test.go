package httpapi_test

import (
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tankside/api"
)

// generatedClient generates a client of all operations from the published contract,
// as a stranger would, compiles it with testdata/client/main.go, and returns the
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
	story, err := os.ReadFile("testdata/client/main.go")
	require.NoError(t, err)
	main := filepath.Join(dir, "main.go")
	require.NoError(t, os.WriteFile(main, story, 0o600))
	program := filepath.Join(dir, "client")
	run("go", "build", "-o", program, source, main)
	return program
}

// The types of the published contract are those that a program gets which was
// written against it alone: it compiles, and is served.
func TestAGeneratedClientPlaysAMorningAtThePool(t *testing.T) {
	program := generatedClient(t)
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday.Add(time.Hour))
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	w.swum(saturday)
	server := httptest.NewServer(s.handler)
	defer server.Close()
	story := exec.CommandContext(t.Context(), program)
	story.Env = []string{"SERVER=" + server.URL, "TOKEN=" + w.instructor.secret, "COURSE=" + w.course,
		"SESSION=" + w.confined,
		"ENROLMENT=" + w.sofia, "PERSON=" + s.Student("Gil Guest", "1990-01-01").String(), "AT=" + at(saturday)}
	out, err := story.CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.Equal(t, `I am [instructor]
may enrol: true done: false
enrolled: active
roll call: recorded
roll call: recorded
roll call: recorded
roll call: recorded
signed: true recorded
`, string(out))
}
