package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"tankside/internal/app"
	"tankside/internal/ledger"
)

// A birth date decides who needs consent and how many go along: no program
// changes it, nobody their own, and nobody without saying why.
func TestABirthDateIsCorrectedByAPersonWithAReason(t *testing.T) {
	s := open(t)
	to := "/v1/people/" + s.manager.post("/v1/people", nuno()).made()
	for member, value := range map[string]string{"birth_on": "1980-01-01", "name": "Somebody Else"} {
		s.program.patch(to, body{member: value, "reason": "the booking says so"}).refused(http.StatusForbidden,
			"missing_role")
		s.assistant.patch(to, body{member: value, "reason": "a slip"}).refused(http.StatusForbidden,
			"missing_role")
		a := s.manager.patch(to, body{member: value}).refused(http.StatusBadRequest, "invalid_request")
		require.Equal(t, "/reason", a.at("findings.0.pointer"))
	}
	s.program.patch(to, body{"phone": "+351 000 000 001", "name": "Nuno Reis"}).want(http.StatusOK)
	s.instructor.patch("/v1/people/"+s.instructor.person.String(),
		body{"birth_on": "1970-01-01", "reason": "mine"}).refused(http.StatusForbidden, "missing_role")
	require.Empty(t, s.manager.get(to+"/corrections").want(http.StatusOK).list("items"))
	s.instructor.patch(to, body{"birth_on": "1994-03-12", "name": "Nuno Alves Reis",
		"reason": "passport seen"}).want(http.StatusOK)
	s.manager.patch(to, body{"birth_on": "1994-03-21", "reason": "read wrongly"}).want(http.StatusOK)
	list := s.assistant.get(to + "/corrections").want(http.StatusOK).list("items")
	require.Len(t, list, 3)
	for member, want := range map[string]any{"member": "birth_on", "before": "1994-03-12",
		"after": "1994-03-21", "reason": "read wrongly",
		"corrected_by": s.manager.person.String(), "corrected_by_name": "Marta Manager"} {
		require.Equal(t, want, list[0][member], member)
	}
	require.ElementsMatch(t, []any{"Nuno Reis", "1994-03-21"}, []any{list[1]["before"], list[2]["before"]},
		"the name was corrected with the birth date")
	s.program.get(to+"/corrections").refused(http.StatusForbidden, "missing_role")
	s.student.get(to+"/corrections").refused(http.StatusNotFound, "not_found")
	s.student.get("/v1/people/" + s.student.person.String() + "/corrections").want(http.StatusOK)
}

// The ledger shows that a birth date was corrected, by whom and when, and keeps
// neither date nor a hash that could be found by trying.
func TestTheLedgerHoldsACorrectionWithoutItsValues(t *testing.T) {
	s := open(t)
	to := "/v1/people/" + s.manager.post("/v1/people", nuno()).made()
	s.instructor.patch(to, body{"birth_on": "1994-03-12", "reason": "passport seen"}).want(http.StatusOK)
	var canonical string
	super, err := pgx.Connect(t.Context(), s.DB.SuperURL)
	require.NoError(t, err)
	defer super.Close(t.Context())
	require.NoError(t, super.QueryRow(t.Context(),
		`SELECT convert_from(canonical, 'UTF8') FROM ledger_entry WHERE kind = 'identity_corrected'`).Scan(&canonical))
	require.Contains(t, canonical, s.instructor.person.String())
	require.Contains(t, canonical, `"member":"birth_on"`)
	for _, text := range []string{"1994-03-12", "1994-03-21", "passport seen"} {
		require.NotContains(t, canonical, text)
		bare, err := ledger.Digest(text)
		require.NoError(t, err)
		require.NotContains(t, canonical, bare.String())
	}
	verify := func() []ledger.Problem {
		r, err := ledger.Verify(t.Context(), s.DB.DB, s.Centre, app.Ledger())
		require.NoError(t, err)
		return slices.DeleteFunc(r.Problems,
			func(p ledger.Problem) bool { return p.EntryKind == ledger.Paper }) // those of the scene
	}
	require.Empty(t, verify())
	_, err = super.Exec(t.Context(), `UPDATE person_correction SET before = '1994-03-20'`)
	require.NoError(t, err)
	require.Len(t, verify(), 1, "the old date changed afterwards is found")
}

// A certificate does not change its owner: the record shows who it was signed
// for, and each correction since.
func TestTheRecordShowsTheIdentityAsSigned(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	to := "/v1/people/" + w.student.person.String()
	record := "/v1/enrolments/" + w.sofia + "/record"
	require.Nil(t, w.manager.get(record).want(http.StatusOK).at("signed_as"))
	w.manager.patch(to, body{"name": "Sofia Early", "reason": "mistyped"}).want(http.StatusOK)
	w.Clock(saturday)
	w.present(w.confined, saturday)
	w.brief(w.confined, saturday)
	w.instructor.post("/v1/sessions/"+w.confined+"/open", nil).want(http.StatusOK)
	w.Clock(saturday.Add(time.Hour))
	w.swum(saturday)
	signOff := newID()
	w.recorded(w.instructor.post("/v1/sessions/"+w.confined+"/sign-offs",
		body{"items": []body{{"id": signOff, "enrolment_id": w.sofia, "skill": "swim"}}}))
	w.Clock(sunday.Add(48 * time.Hour))
	w.manager.patch(to, body{"name": "Tess Other", "birth_on": "1990-01-01",
		"reason": "not the same person"}).want(http.StatusOK)
	a := w.manager.get(record).want(http.StatusOK)
	require.Equal(t, "Tess Other", a.at("person_name"))
	require.Equal(t, "Sofia Early", a.at("signed_as.name"))
	require.Equal(t, "1995-05-05", a.at("signed_as.birth_on"))
	require.Equal(t, signOff, a.at("signed_as.ref_id"))
	require.Len(t, a.list("corrections"), 3)
	require.Equal(t, "not the same person", a.at("corrections.0.reason"))
	require.True(t, strings.HasPrefix(a.at("corrections.0.corrected_at").(string), "2026-06-09"))
}
