package httpapi_test

import (
	"context"
	"log/slog"
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/app"
	"tankside/internal/live"
	"tankside/internal/offline"
	"tankside/internal/scenetest"
)

// beyond insists that something is one too many, and that a caller is told when
// to come again.
func (a answer) beyond(code string) answer {
	a.t.Helper()
	require.NotEmpty(a.t, a.refused(http.StatusTooManyRequests, code).header.Get("Retry-After"))
	return a
}

// A token, and a centre, has so many tickets at once; another centre has its own.
func TestTicketsAreBounded(t *testing.T) {
	w := newSeason(t, open(t))
	other := newSeason(t, openIn(t, scenetest.In(t, w.DB)))
	for _, s := range []*shop{w.shop, other.shop} {
		s.services.Access.Bound(access.Bounds{Tickets: 2, CentreTickets: 3})
	}
	ask := func(c *client) answer { return c.post("/v1/tickets", body{"address": w.live(w.confined)}) }
	ask(w.assistant).want(http.StatusCreated)
	ask(w.assistant).want(http.StatusCreated)
	ask(w.assistant).beyond("too_many_tickets")
	ask(w.instructor).want(http.StatusCreated)
	ask(w.instructor).beyond("too_many_tickets")
	ask(other.instructor).want(http.StatusCreated)
	w.Super(`UPDATE ticket SET issued_at = issued_at - interval '2 minutes', expires_at = expires_at - interval '2 minutes'`)
	ask(w.assistant).want(http.StatusCreated)
}

// A person, a program and a centre has so many good tokens.
func TestTokensAreBounded(t *testing.T) {
	s := open(t)
	s.services.Access.Bound(access.Bounds{Tokens: 3, CentreTokens: 9}) // six are there
	program := body{"program": "slates", "scopes": []string{"centre:read"}}
	first := s.boss.post("/v1/tokens", program).want(http.StatusCreated).at("token.id").(string)
	s.boss.post("/v1/tokens", program).want(http.StatusCreated)
	s.boss.post("/v1/tokens", program).want(http.StatusCreated)
	s.boss.post("/v1/tokens", program).beyond("too_many_tokens")
	s.boss.post("/v1/tokens",
		body{"program": "screens", "scopes": []string{"centre:read"}}).beyond("too_many_tokens")
	s.boss.post("/v1/tokens/"+first+"/revoke", nil).want(http.StatusOK)
	s.boss.post("/v1/tokens", program).want(http.StatusCreated)
}

// A token has so many entries that wait. Beyond it a batch is taken whole or not
// at all, whatever is known already is answered as ever, and nothing is lost: it
// is sent again when there is room.
func TestWhatWaitsIsBounded(t *testing.T) {
	s := open(t)
	w := newSeason(t, s)
	w.Clock(saturday)
	s.services.Offline.Bound(offline.Bounds{Held: 3, CentreHeld: 5})
	waits := func() body {
		return entry("gas_check", newID(),
			body{"participant_id": newID(), "reading": of(150, "bar"), "witnessed_at": at(saturday)})
	}
	send := func(c *client, entries ...body) answer {
		return c.post("/v1/batches", body{"device_id": "hers", "sent_at": at(saturday), "entries": entries})
	}
	three := []body{waits(), waits(), waits()}
	require.Equal(t, []any{"held", "held", "held"}, statuses(send(w.instructor, three...).want(http.StatusOK)))
	before := w.everyRow()
	late := []body{three[0], waits()}
	send(w.instructor, late...).beyond("too_many_waiting")
	require.Equal(t, before, w.everyRow(), "nothing of it was taken")
	send(w.instructor, three...).want(http.StatusOK)
	// Another token of the centre has its own, up to what the centre has.
	send(w.assistant, waits(), waits()).want(http.StatusOK)
	send(w.assistant, waits()).beyond("too_many_waiting")
	// Another centre has all of its own.
	other := newSeason(t, openIn(t, scenetest.In(t, w.DB)))
	other.services.Offline.Bound(offline.Bounds{Held: 3, CentreHeld: 5})
	other.Clock(saturday)
	send(other.instructor, waits(), waits(), waits()).want(http.StatusOK)

	held := w.instructor.get("/v1/held-entries").want(http.StatusOK).ids()
	w.instructor.post("/v1/held-entries/"+held[0]+"/drop",
		body{"reason": "Entered for the wrong group."}).want(http.StatusOK)
	require.Equal(t, "held", send(w.instructor, late[1]).want(http.StatusOK).at("items.0.status"))
	// What is refused counts for a day.
	refused := func() body {
		return entry("gas_check", newID(), body{"participant_id": "nobody"})
	}
	s.services.Offline.Bound(offline.Bounds{Held: 5, CentreHeld: 100})
	require.Equal(t, []any{"refused", "refused"},
		statuses(send(w.instructor, refused(), refused()).want(http.StatusOK)))
	send(w.instructor, refused()).beyond("too_many_waiting")
}

// A centre has so many streams on an instance, whatever others have.
func TestACentresStreamsAreItsOwn(t *testing.T) {
	w := newSeason(t, open(t))
	other := newSeason(t, openIn(t, scenetest.In(t, w.DB)))
	hub := app.NewHub(w.DB.DB, w.services, 2, 3, slog.New(slog.DiscardHandler))
	t.Cleanup(hub.Stop)
	listen := func(s *season, token uint8) error {
		who := actor.Actor{Centre: s.Centre, Person: s.instructor.person, Token: [16]byte{token},
			Roles:  []actor.Role{actor.Instructor},
			Scopes: []actor.Scope{access.TrainingRead}}
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		l, err := hub.Listen(ctx, who,
			live.Subscription{Sessions: []uuid.UUID{uuid.MustParse(s.confined)}, Scope: access.TrainingRead})
		if err == nil {
			t.Cleanup(l.Close)
		}
		return err
	}
	require.NoError(t, listen(w, 1))
	require.NoError(t, listen(w, 1))
	require.ErrorContains(t, listen(w, 1), "This token has 2 streams")
	require.NoError(t, listen(w, 2))
	require.ErrorContains(t, listen(w, 3), "The centre has 3 streams")
	require.NoError(t, listen(other, 4))
}
