package review

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/dayview"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/page"
	"tankside/internal/permission"
	"tankside/internal/pg"
)

// Explained is a decision with what it was judged on, as far as its reader may see it.
type Explained struct {
	journal.Decided
	On       *decision.JudgedOn // nil where Unread says why
	Unread   error              // why On is missing: it was kept in another form
	Names    []finding.Named    // of what On names, as they are now
	Withheld []string           // the members of On that the reader may not see
}

// Decisions returns the decisions about a subject, a page of them. A student reads those
// about their own enrolment. Fault: not_found for another's.
func (s *Service) Decisions(ctx context.Context, by actor.Actor, about finding.Subject,
	p page.Request) (out []journal.Decided, next *page.Place, err error) {
	err = s.db.Browse(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if err := mayRead(ctx, tx, by, "listDecisions", about); err != nil {
			return err
		}
		out, next, err = journal.Decisions(ctx, tx, about, p)
		return err
	})
	return out, next, err
}

// Explain returns a decision with what it was judged on. A student reads those about
// their own enrolment. Papers and fitness are left out for a reader without papers:read.
// Fault: not_found.
func (s *Service) Explain(ctx context.Context, by actor.Actor, id uuid.UUID) (out Explained, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out = Explained{}
		if out.Decided, err = journal.FindDecision(ctx, tx, id); err != nil {
			return err
		}
		if err := mayRead(ctx, tx, by, "getDecision", out.Subject()); err != nil {
			return err
		}
		on, ok := readJudgedOn(out.Decided, &out.Unread)
		if !ok {
			return nil
		}
		if !by.May(access.PapersRead) && on.WithoutPapers() {
			out.Withheld = []string{"papers", "unfit"}
		}
		out.On = &on
		out.Names, err = namesIn(ctx, tx, on)
		return err
	})
	return out, err
}

// mayRead returns not_found for a decision about what the caller does not reach.
func mayRead(ctx context.Context, tx *pg.Tx, by actor.Actor, operation string, about finding.Subject) error {
	if permission.Of(operation, by) == permission.All {
		return nil
	}
	if about.Type != "enrolment" {
		return permission.Refusal(operation, by)
	}
	person, there, err := pg.OptionalRow[uuid.UUID](ctx, tx, `SELECT person_id
		FROM courses_enrolment
		WHERE centre_id = app_centre() AND id = @id::uuid`, pgx.StrictNamedArgs{"id": about.ID})
	if err == nil && (!there || !permission.Covers(operation, by, person)) {
		err = fault.NoSuch("enrolment")
	}
	return err
}

// called has the type of thing that each member of a judged-on form names by id.
var called = map[string]string{"person_id": "person", "signed_by": "person", "session_id": "session",
	"course_id": "course", "site_id": "site", "group_id": "group", "papers": "paper"}

const namesSQL = `SELECT 'person' AS type, id::text AS id, name
	FROM people_person
	WHERE centre_id = app_centre() AND id = ANY (@people)
	UNION ALL
	SELECT 'session', id::text, title
	FROM sessions_session
	WHERE centre_id = app_centre() AND id = ANY (@sessions)
	UNION ALL
	SELECT 'course', id::text, title
	FROM courses_course
	WHERE centre_id = app_centre() AND id = ANY (@courses)
	UNION ALL
	SELECT 'site', id::text, name
	FROM courses_site
	WHERE centre_id = app_centre() AND id = ANY (@sites)
	UNION ALL
	SELECT 'group', id::text, name
	FROM sessions_group
	WHERE centre_id = app_centre() AND id = ANY (@groups)`

// namesIn returns the names of what a form names by id, as they are now; of a paper, its
// kind.
func namesIn(ctx context.Context, tx *pg.Tx, on decision.JudgedOn) ([]finding.Named, error) {
	text, err := json.Marshal(on)
	if err != nil {
		return nil, fmt.Errorf("name what a decision was judged on: %w", err)
	}
	var members any
	if err := json.Unmarshal(text, &members); err != nil {
		return nil, fmt.Errorf("name what a decision was judged on: %w", err)
	}
	ids := map[string]map[uuid.UUID]bool{}
	collect(ids, "", members)
	of := func(kind string) []uuid.UUID { return slices.Collect(maps.Keys(ids[kind])) }
	names, err := pg.Rows[finding.Named](ctx, tx, namesSQL, pgx.StrictNamedArgs{"people": of("person"),
		"sessions": of("session"), "courses": of("course"), "sites": of("site"), "groups": of("group")})
	if err != nil {
		return nil, err
	}
	papers, err := dayview.ReadPapers(ctx, tx, of("paper"))
	for _, p := range papers {
		names = append(names, finding.Named{Type: "paper", ID: p.ID,
			Name: strings.ReplaceAll(string(p.Kind), "_", " ")})
	}
	slices.SortFunc(names, func(a, b finding.Named) int {
		return slices.Compare([]string{a.Type, a.Name, a.ID}, []string{b.Type, b.Name, b.ID})
	})
	return names, err
}

// collect adds the ids beneath a member of a form to ids, by the type of thing.
func collect(ids map[string]map[uuid.UUID]bool, member string, v any) {
	switch v := v.(type) {
	case map[string]any:
		if member == "papers" {
			collect(ids, member, v["id"])
			return
		}
		for name, x := range v {
			collect(ids, name, x)
		}
	case []any:
		for _, x := range v {
			collect(ids, member, x)
		}
	case string:
		if kind := called[member]; kind != "" {
			if id, err := uuid.Parse(v); err == nil {
				if ids[kind] == nil {
					ids[kind] = map[uuid.UUID]bool{}
				}
				ids[kind][id] = true
			}
		}
	}
}
