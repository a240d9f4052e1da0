package bench

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
)

// While the live view is measured, gas checks arrive at this rate in a second, over
// all sessions, and are sent by this many writers in turn: more than are ever at work
// at once.
const (
	checksASecond = 100
	writers       = 16
)

// patience is the longest acceptable delay of a listener, on a machine that runs the
// service, the database and the load.
const (
	patience = 30 * time.Second
	tenth    = 100 * time.Millisecond
)

// liveView is one measurement of the live view.
type liveView struct {
	centre   *testCentre
	bases    []string // of the instances
	watchers int      // of each session
	length   time.Duration

	mu       sync.Mutex
	answered map[string]time.Time   // when the writer of each gas check had its answer
	told     map[string][]time.Time // when each listener had each gas check
	wrong    int                    // events that came out of order or twice
}

// measureLive watches the sessions on all instances while gas checks arrive, and
// prints the listeners' delay behind the writer's answer. It also checks that every
// listener gets every event once.
func (s *testCentre) measureLive(ctx context.Context, o Options) error {
	v := &liveView{centre: s, bases: s.bases, watchers: o.Watchers, length: o.Watching,
		answered: map[string]time.Time{}, told: map[string][]time.Time{}}
	watching, leave := context.WithTimeout(ctx, v.length+time.Minute)
	defer leave()
	var listening sync.WaitGroup
	ready := make(chan error, sessions*v.watchers)
	for i := range sessions * v.watchers {
		listening.Go(func() { v.watch(watching, i, ready) })
	}
	for range sessions * v.watchers {
		if err := <-ready; err != nil {
			return fmt.Errorf("watch: %w", err)
		}
	}
	if err := v.write(ctx); err != nil {
		return err
	}
	for waited := time.Duration(0); !v.allReceived() && waited < patience; waited += tenth {
		time.Sleep(tenth) // for events on their way
	}
	leave()
	listening.Wait()
	return v.report(o)
}

// watch runs one listener. It sends to ready when it has its snapshot, or the error.
func (v *liveView) watch(ctx context.Context, i int, ready chan<- error) {
	address := v.bases[i/sessions%len(v.bases)] + "/v1/live?session_id=" +
		numbered(sessionPrefix, i%sessions).String()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, http.NoBody)
	if err != nil {
		ready <- err
		return
	}
	r.Header.Set("Authorization", "Bearer "+v.centre.instructor)
	resp, err := v.centre.client.Do(r)
	if err != nil {
		ready <- err
		return
	}
	defer func() { _ = resp.Body.Close() }()
	if resp.StatusCode != http.StatusOK {
		ready <- fmt.Errorf("answered %d", resp.StatusCode)
		return
	}
	lines, last := bufio.NewScanner(resp.Body), 0
	lines.Buffer(nil, 16<<20)
	for lines.Scan() {
		at := time.Now()
		var e struct {
			Type     string
			ID       string
			Resource struct{ ID string }
		}
		data, isData := strings.CutPrefix(lines.Text(), "data: ")
		if !isData || json.Unmarshal([]byte(data), &e) != nil {
			continue
		}
		switch e.Type {
		case "snapshot":
			ready <- nil
		case "gas_check":
			last = v.hear(e.ID, e.Resource.ID, at, last)
		}
	}
}

// hear notes that a listener received a check, and returns the event's number in its
// session.
func (v *liveView) hear(event, check string, at time.Time, last int) int {
	var n int
	_, number, _ := strings.Cut(event, "/")
	_, err := fmt.Sscan(number, &n)
	v.mu.Lock()
	defer v.mu.Unlock()
	if err != nil || last != 0 && n != last+1 {
		v.wrong++
	}
	v.told[check] = append(v.told[check], at)
	return n
}

// write sends gas checks at an even pace.
func (v *liveView) write(ctx context.Context) error {
	pace := time.NewTicker(time.Second / checksASecond)
	defer pace.Stop()
	due := make(chan struct{}, writers)
	errs := make([]error, writers)
	var writing sync.WaitGroup
	for w := range errs {
		writing.Go(func() {
			for range due {
				errs[w] = errors.Join(errs[w], v.check())
			}
		})
	}
	for range int(v.length.Seconds() * checksASecond) {
		select {
		case <-ctx.Done():
		case <-pace.C:
			due <- struct{}{}
		}
	}
	close(due)
	writing.Wait()
	return errors.Join(append(errs, ctx.Err())...)
}

// check sends one gas check of any student.
func (v *liveView) check() error {
	n, id := rand.IntN(sessions*students), uuid.New()
	err := v.centre.recorded("/v1/sessions/"+numbered(sessionPrefix, n/students).String()+"/gas-checks",
		object{"id": id, "participant_id": numbered(participantPrefix, n),
			"reading":   object{"value": 150, "unit": "bar"},
			"signalled": object{"value": 150, "unit": "bar"}, "witnessed_at": "2027-06-05T08:00:00Z"})
	v.mu.Lock()
	defer v.mu.Unlock()
	v.answered[id.String()] = time.Now()
	return err
}

// allReceived reports whether every listener received every event.
func (v *liveView) allReceived() bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	for id := range v.answered {
		if len(v.told[id]) < v.watchers {
			return false
		}
	}
	return true
}

// report prints the listeners' delay. It fails when a listener did not receive every
// event, once and in order.
func (v *liveView) report(o Options) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	var behind []time.Duration
	for id, answered := range v.answered {
		if len(v.told[id]) != v.watchers {
			return fmt.Errorf("live: %d of %d listeners were told of a gas check",
				len(v.told[id]), v.watchers)
		}
		for _, at := range v.told[id] {
			behind = append(behind, at.Sub(answered))
		}
	}
	if v.wrong > 0 || len(behind) == 0 {
		return fmt.Errorf("live: %d events were told twice or out of order, %d in all", v.wrong, len(behind))
	}
	slices.Sort(behind)
	at := func(share float64) string {
		return fmt.Sprintf("%.0f ms", float64(behind[int(share*float64(len(behind)-1))].Microseconds())/1000)
	}
	fmt.Fprintf(o.Out, "live view: %d listeners on each of %d sessions, on %d instances, "+
		"while %d gas checks were written in %s:\neach told of each once and in order, behind the writer's "+
		"answer by p50 %s, p99 %s, at most %s\n\n",
		v.watchers, sessions, len(v.bases), len(v.answered), v.length, at(0.5), at(0.99), at(1))
	return nil
}
