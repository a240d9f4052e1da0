package bench

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"
)

// wakingClients is how many clients post gas checks, each as soon as its last one is
// answered, while held entries are woken.
const wakingClients = 8

// lookEvery is the interval at which a woken entry is read, and mostWaking the longest wait.
const (
	lookEvery  = 5 * time.Millisecond
	mostWaking = 30 * time.Second
)

// measureWaking prints how long an entry stays held after the write that it waits for
// was answered, under load: a roll call brings a person whom nobody has recorded yet.
func (s *testCentre) measureWaking(o Options) error {
	if o.On.Worker == "" {
		return nil
	}
	stop := make(chan struct{})
	errs := make([]error, wakingClients)
	var load sync.WaitGroup
	for i := range errs {
		load.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					path, item := s.gasCheck()
					errs[i] = errors.Join(errs[i], s.recorded("/v1/sessions/"+path+"/gas-checks", item))
				}
			}
		})
	}
	var took []float64
	var err error
	for range 40 * o.Rounds {
		var one time.Duration
		if one, err = s.wake(); err != nil {
			break
		}
		took = append(took, 1000*one.Seconds())
	}
	close(stop)
	load.Wait()
	if err := errors.Join(append(errs, err)...); err != nil {
		return err
	}
	slices.Sort(took)
	fmt.Fprintf(o.Out, "\nheld entries judged again by the background, %d clients writing: %d times, "+
		"p50 %.0f ms, p99 %.0f ms, at most %.0f ms after the answer\n",
		wakingClients, len(took), median(took), took[len(took)*99/100], took[len(took)-1])
	return nil
}

// wake posts an entry that is held, records what it waits for, and returns the time from
// that answer until the entry was recorded.
func (s *testCentre) wake() (time.Duration, error) {
	person, entry := uuid.New(), uuid.New()
	out, err := s.send(s.instructor, "POST", "/v1/batches",
		object{"device_id": "phone", "sent_at": "2027-06-05T09:00:00Z", "entries": []object{
			{"id": entry, "kind": "roll_call", "session_id": numbered(sessionPrefix, 1),
				"body": object{"attendance": "absent", "witnessed_at": "2027-06-05T08:00:00Z",
					"unexpected": object{"person_id": person, "role": "assistant"}}}}})
	if err != nil {
		return 0, err
	}
	if items, _ := out["items"].([]any); len(items) != 1 || items[0].(object)["status"] != "held" {
		return 0, fmt.Errorf("not held: %v", items)
	}
	if _, err := s.send(s.manager, "POST", "/v1/people",
		object{"id": person, "name": "Late Assistant", "birth_on": "1985-01-01",
			"roles": []string{"assistant"}}); err != nil {
		return 0, err
	}
	for began := time.Now(); ; time.Sleep(lookEvery) {
		if _, err := s.send(s.instructor, "GET", "/v1/entries/"+entry.String(), nil); err == nil {
			return time.Since(began), nil
		} else if time.Since(began) > mostWaking {
			return 0, fmt.Errorf("an entry was not judged again: %w", err)
		}
	}
}
