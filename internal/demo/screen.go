package demo

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"
)

// screen is a browser that shows the live view of a session.
type screen struct {
	lines *bufio.Scanner
	at    string // the id of the last event, for a reconnect
}

// watch opens the live view of a session as a browser's EventSource does, by an
// address with a ticket and without a header, and closes it when look returns. after
// is the id of the last event of an earlier screen, "" for none; watch returns that of
// this one.
func (s *story) watch(who, session, after string, look func(*screen)) string {
	address := s.must(who, post, "/v1/tickets",
		object{"address": "/v1/live?session_id=" + s.ids[session]}).body["address"]
	if after != "" {
		address = fmt.Sprintf("%s&after=%s", address, after)
	}
	ctx, cancel := context.WithTimeout(s.ctx, 30*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, fmt.Sprint(s.base, address), http.NoBody)
	if err != nil {
		panic(storyStopped{err.Error()})
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		panic(storyStopped{err.Error()})
	}
	defer func() { _ = resp.Body.Close() }()
	if resp.StatusCode != http.StatusOK {
		panic(storyStopped{fmt.Sprintf("%s watches %s: %d", who, session, resp.StatusCode)})
	}
	x := &screen{lines: bufio.NewScanner(resp.Body), at: after}
	x.lines.Buffer(nil, 10<<20)
	look(x)
	return x.at
}

// see reads until n events of a type have come, and returns the number of events of
// each type.
func (s *story) see(x *screen, kind string, n int) map[string]int {
	seen := map[string]int{}
	for seen[kind] < n && x.lines.Scan() {
		name, value, _ := strings.Cut(x.lines.Text(), ": ")
		switch name {
		case "id":
			x.at = value
		case "data":
			var e struct{ Type string }
			if err := json.Unmarshal([]byte(value), &e); err != nil {
				panic(storyStopped{err.Error()})
			}
			seen[e.Type]++
		}
	}
	s.expect(seen[kind] == n, "the screen showed %d of %d events of type %s before the stream ended: %v",
		seen[kind], n, kind, x.lines.Err())
	return seen
}

// shore plays Mara, who stays at the shop and watches the day at the cove on a screen;
// between the two dives she loses the connection.
func (s *story) shore(session string, dives ...func()) {
	divers := 0
	for _, p := range s.must("Mara", get, "/v1/sessions/"+s.ids[session]+"/participants", nil).items() {
		if p["attendance"] != "absent" && p["attendance"] != "sat_out" {
			divers++
		}
	}
	at := s.watch("Mara", session, "", func(x *screen) {
		s.see(x, "snapshot", 1)
		dives[0]()
		seen := s.see(x, "time_out", divers)
		s.note("Mara watches from the shop, in a browser, by a ticket: %d went in and %d came out, "+
			"each as Ines recorded it.", seen["time_in"], seen["time_out"])
	})
	for _, dive := range dives[1:] {
		dive()
	}
	s.watch("Mara", session, at, func(x *screen) {
		seen := s.see(x, "standing", 1)
		s.expect(seen["time_in"] == divers && seen["time_out"] == divers && seen["snapshot"] == 0,
			"the screen came back and was told %v", seen)
		s.note("She loses the connection, and comes back after the second dive: what she missed is told "+
			"first, %d in and %d out, each once.", seen["time_in"], seen["time_out"])
	})
}
