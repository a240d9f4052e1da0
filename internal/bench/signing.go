package bench

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
)

// signers is how many people one session has whose sign-offs are measured. Each
// sign-off uses up an enrolment without an earlier one. The people take part by roll
// call and in no group, since a group has fewer places.
const signers = 50

// enrol enrols n people, whose ids follow one another, and calls the roll of the
// sessions in the weeks before in which they took part.
func (s *testCentre) enrol(n int) error {
	const mostInAList = 1000 // the API's limit
	for first := 0; first < n; first += mostInAList {
		var list strings.Builder
		list.WriteString("name,birth_on\n")
		for i := range min(mostInAList, n-first) {
			fmt.Fprintf(&list, "Signed %06d,1995-05-05\n", first+i)
		}
		out, err := s.send(s.manager, "POST", "/v1/people/import", list.String())
		if err != nil {
			return err
		}
		items, _ := out["items"].([]any)
		if err := s.recordAttendance(first, items); err != nil {
			return err
		}
	}
	return nil
}

// took lets people take part, signers of them in each session.
func (s *testCentre) recordAttendance(first int, people []any) error {
	var calls [][]any
	for ; len(people) > signers; people = people[signers:] {
		calls = append(calls, people[:signers])
	}
	calls = append(calls, people)
	// One after the other: the instructor is in all of them.
	for i := range calls {
		var err error
		id, from := s.signing(first/signers + i)
		s.hold(&err, id, from, signingTime)
		s.brief(&err, id, nil)
		s.must(&err, s.manager, "POST", "/v1/sessions/"+id.String()+"/open", object{})
		if err != nil {
			return err
		}
	}
	var wg sync.WaitGroup
	errs := make([]error, 8)
	for w := range errs {
		wg.Go(func() {
			for i := w; i < len(calls) && errs[w] == nil; i += len(errs) {
				errs[w] = s.call(first+i*signers, calls[i])
			}
		})
	}
	wg.Wait()
	return errors.Join(errs...)
}

// signingTime is the length of a session with sign-offs; many fit into the weeks
// before.
const signingTime = 10 * time.Minute

func (s *testCentre) signing(n int) (uuid.UUID, time.Time) {
	return numbered(signingPrefix, n),
		time.Date(2027, 5, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(n) * signingTime)
}

// call enrols people and calls the roll of their session.
func (s *testCentre) call(first int, people []any) error {
	id, from := s.signing(first / signers)
	var items []object
	for i, p := range people {
		person, enrolment := p.(object)["id"], numbered(signedPrefix, first+i)
		if _, err := s.send(s.manager, "POST", "/v1/courses/"+s.course+"/enrolments",
			object{"id": enrolment, "person_id": person}); err != nil {
			return err
		}
		items = append(items, object{"id": uuid.New(),
			"unexpected": object{"person_id": person, "role": "student", "enrolment_id": enrolment},
			"attendance": "present", "witnessed_at": from})
	}
	_, err := s.send(s.manager, "POST", "/v1/sessions/"+id.String()+"/roll-calls", object{"items": items})
	return err
}
