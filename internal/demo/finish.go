package demo

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"

	"tankside/internal/app"
	"tankside/internal/ledger"
	"tankside/internal/pg"
)

// finish plays the end of the course: what is missing, completion, the record.
func (s *story) finish() {
	_, second := s.openSkills()
	completions := "/v1/enrolments/" + s.ids["enrolment Nuno"] + "/completions"
	s.refused("Ines", post, completions, object{}, 422, "syllabus.skill_missing",
		"Ines wants to complete Nuno before the day's skills are signed.")
	for _, g := range []struct{ who, group string }{{"Ines", "blue"}, {"Rui", "red"}} {
		s.sign(g.who, "Cove 2", "Cove 2 dive 2", s.inWater("Cove 2", g.group), second...)
	}
	s.must("Ines", post, "/v1/sessions/"+s.ids["Cove 2"]+"/close", object{"log_complete": true})
	s.note("The last skills are signed.")
	s.accepted("Ines", completions, object{}, "Now Nuno's completion is granted: her own decision, signed.")
	s.accepted("Rui", "/v1/enrolments/"+s.ids["enrolment Ida"]+"/completions", object{},
		"And Ida's, by Rui; what she did elsewhere stays marked as not witnessed here.")
	s.refused("Ines", post, "/v1/enrolments/"+s.ids["enrolment Kim"]+"/completions", object{}, 422, "",
		"Kim's would be refused:")
	s.table()
	s.record()
}

// table prints some columns of the course's progress.
func (s *story) table() {
	a := s.must("Mara", get, "/v1/courses/"+s.ids["weekend"]+"/progress", nil, "Accept", "text/csv")
	rows, err := csv.NewReader(strings.NewReader(a.text)).ReadAll()
	if err != nil || len(rows) != len(s.scenario.students)+2 {
		s.fail("the progress table has %d rows: %v", len(rows), err)
		return
	}
	fmt.Fprintf(s.out, "\n  The course's progress (a few columns of %d):\n", len(rows[0]))
	columns := []string{"student", "state", "hover", "gas-report", "hover-open",
		"gas-receiving-open", "dive 4"}
	for _, row := range rows {
		fmt.Fprint(s.out, "    ")
		for _, c := range columns {
			if i := slices.Index(rows[0], c); i >= 0 {
				fmt.Fprintf(s.out, "%-20s", row[i])
			}
		}
		fmt.Fprintln(s.out)
	}
}

// record prints the record that Nuno himself can show.
func (s *story) record() {
	r := s.must("Nuno", get, "/v1/enrolments/"+s.ids["enrolment Nuno"]+"/record", nil).body
	count := func(name string) int {
		list, _ := r[name].([]any)
		return len(list)
	}
	fmt.Fprintf(s.out, "\n  Nuno's record, as he reads it himself: %v, born %v, %q at %v.\n",
		r["person_name"], r["birth_on"], r["course"], r["centre"])
	fmt.Fprintf(s.out, "    %d sessions, %d dives, %d theory results, %d attempts, %d sign-offs, "+
		"%d completion; %d entries chained in the ledger.\n",
		count("sessions"), count("dives"), count("theory"), count("attempts"), count("sign_offs"),
		count("completions"), count("ledger"))
	if list, ok := r["sign_offs"].([]any); ok && len(list) > 0 {
		last := list[len(list)-1].(object)
		fmt.Fprintf(s.out, "    The last of them: %v, signed by %v at %v.\n", last["skill"],
			last["signed_by_name"], last["signed_at"])
	}
	s.expect(r["state"] == "completed" && count("dives") == 4 && count("sign_offs") == len(s.skills),
		"Nuno's record is not complete: %v, %d dives, %d sign-offs",
		r["state"], count("dives"), count("sign_offs"))
	s.send("Nuno", get, "/v1/enrolments/"+s.ids["enrolment Olga"]+"/record", nil)
	s.refused("Nuno", get, "/v1/enrolments/"+s.ids["enrolment Olga"]+"/record", nil, 404, "",
		"Olga's record is not his to read.")
}

// verify checks the centre's ledger, as the operator can at any time.
func (s *story) verify(ctx context.Context, db *pg.DB) error {
	report, err := ledger.Verify(ctx, db, s.centre, app.Ledger())
	if err != nil {
		return err
	}
	if !report.Whole() {
		return fmt.Errorf("%w: the ledger does not agree with the rows: %v", ErrStory, report.Problems)
	}
	fmt.Fprintf(s.out, "\n  The ledger: %d chains, %d entries; every decided row is as it was written.\n",
		report.Chains, report.Entries)
	fmt.Fprintln(s.out, "\nTankside keeps records and applies limits; it never says that a dive is safe. "+
		"Local law, the training\norganisation and the instructor in charge come first.")
	return nil
}

// invite prints what to try while the service goes on.
func (s *story) invite(out io.Writer) {
	fmt.Fprintf(out, "\nServing at %s. The API reference: %s/docs/\n\nTokens of this centre, "+
		"one for each role:\n", s.base, s.base)
	for _, x := range []struct{ role, who string }{{"manager", "Mara"}, {"instructor", "Ines"},
		{"assistant", "Bea"}, {"student", "Nuno"}, {"program", "booking page"}} {
		token := s.tokens[x.who]
		if x.role == "program" {
			token = fmt.Sprint(s.must("Mara", post, "/v1/tokens",
				object{"program": x.who, "scopes": []string{"courses:read", "courses:write", "people:read",
					"people:write"}}).body["secret"])
		}
		fmt.Fprintf(out, "  %-11s %-13s %s\n", x.role, x.who, token)
	}
	fmt.Fprintf(out, "\nTry:\n")
	fmt.Fprintf(out, "  curl -s -H 'Authorization: Bearer %s' %s/v1/me\n", s.tokens["Ines"], s.base)
	fmt.Fprintf(out, "  curl -s -H 'Authorization: Bearer %s' %s/v1/people/%s/days/2027-06-05\n",
		s.tokens["Ines"], s.base, s.people["Ines"])
	fmt.Fprintf(out, "  curl -s -H 'Authorization: Bearer %s' -H 'Accept: "+
		"text/csv' %s/v1/courses/%s/progress\n", s.tokens["Mara"], s.base, s.ids["weekend"])
	fmt.Fprintln(out, "\nCtrl-C stops the service and the database. The data stay; "+
		"the next start plays a new centre beside this one.")
}
