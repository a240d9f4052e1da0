package bench

import (
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"
)

// batched is how many entries a phone sends at once when it is back in coverage.
const batched = 50

// compareBatches prints the time of a batch and of as many single posts, one after
// the other as a phone would send them: the median of several of each.
func (s *testCentre) compareBatches(o Options) error {
	var batch, single []float64
	for range max(o.Rounds, 3) {
		entries, began := make([]object, batched), time.Now()
		for i := range entries {
			path, item := s.gasCheck()
			entries[i] = object{"id": item["id"], "kind": "gas_check", "session_id": path, "body": item}
		}
		out, err := s.send(s.instructor, "POST", "/v1/batches",
			object{"device_id": "phone", "sent_at": "2027-06-05T09:00:00Z", "entries": entries})
		if err != nil {
			return err
		}
		for _, r := range out["items"].([]any) {
			if r.(object)["status"] != "recorded" {
				return fmt.Errorf("not recorded: %v", r)
			}
		}
		batch = append(batch, time.Since(began).Seconds())
		began = time.Now()
		for range batched {
			path, item := s.gasCheck()
			if err := s.recorded("/v1/sessions/"+path+"/gas-checks", item); err != nil {
				return err
			}
		}
		single = append(single, time.Since(began).Seconds())
	}
	fmt.Fprintf(o.Out, "\nbatch of %d gas checks: %.1f ms; %d single posts: %.1f ms; %.1f times\n", batched,
		1000*median(batch), batched, 1000*median(single), median(single)/median(batch))
	return nil
}

// gasCheck returns a gas check of a session of the day. Those of one batch are of one
// session, as on a phone.
func (s *testCentre) gasCheck() (session string, item object) {
	n := rand.IntN(students)
	return numbered(sessionPrefix, 0).String(),
		object{"id": uuid.New(), "participant_id": numbered(participantPrefix, n),
			"reading":   object{"value": 150, "unit": "bar"},
			"signalled": object{"value": 150, "unit": "bar"}, "witnessed_at": "2027-06-05T08:00:00Z"}
}
