package planning

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/decision"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/journal"
	"tankside/internal/once"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// Convention is a convention of hand signals as a centre has it: one that comes
// with the service, or its own.
type Convention struct {
	signal.Convention
	ID        uuid.UUID  // uuid.Nil of a ready one
	Version   int64      // 1 of a ready one, which never changes within a release
	CreatedAt *time.Time // nil of a ready one
	UpdatedAt *time.Time
}

// Own reports whether the convention is the centre's own.
func (c Convention) Own() bool { return c.ID != uuid.Nil }

// CheckConvention finds what speaks against a convention; the subject is its code.
// Nothing is stored.
func CheckConvention(c signal.Convention) finding.List {
	found := c.Examine()
	for i := range found {
		found[i].Subjects = append(found[i].Subjects, finding.Subject{Type: "convention", ID: c.Code})
	}
	return found
}

// Conventions lists the ready conventions, then the centre's own by name.
func (s *Service) Conventions(ctx context.Context, by actor.Actor) ([]Convention, error) {
	return pg.InTx(ctx, s.db, by.Centre, func(ctx context.Context, tx *pg.Tx) (out []Convention, err error) {
		for _, c := range signal.Ready() {
			out = append(out, Convention{Convention: c, Version: 1})
		}
		rows, err := pg.Rows[conventionRow](ctx, tx, `SELECT `+conventionColumns+
			` FROM convention WHERE centre_id = app_centre() ORDER BY name, code`,
			pgx.StrictNamedArgs{})
		if err != nil {
			return nil, fmt.Errorf("list conventions: %w", err)
		}
		for _, r := range rows {
			c, err := r.convention()
			if err != nil {
				return nil, err
			}
			out = append(out, c)
		}
		return out, nil
	})
}

// Convention reads one by its code, a ready one or the centre's own.
func (s *Service) Convention(ctx context.Context, by actor.Actor, code string) (out Convention, err error) {
	if out, ok := ready(code); ok {
		return out, nil
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findConvention(ctx, tx, code, "")
		return err
	})
	return out, err
}

func ready(code string) (Convention, bool) {
	all := signal.Ready()
	if i := slices.IndexFunc(all, func(c signal.Convention) bool { return c.Code == code }); i >= 0 {
		return Convention{Convention: all[i], Version: 1}, true
	}
	return Convention{}, false
}

// CreateConvention adds a convention of the centre's own. It is examined: what
// forbids refuses it, what is a caution asks a person to accept it. created is
// false when the same request was answered before. Faults: id_reused;
// code_taken for a code that a ready convention or another one has.
func (s *Service) CreateConvention(ctx context.Context, by actor.Actor, key once.Key, c signal.Convention,
	accept []journal.Acceptance) (out Convention, found finding.List, created bool, err error) {
	if _, taken := ready(c.Code); taken {
		return out, nil, false, codeTaken()
	}
	found = CheckConvention(c)
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		row, again, err := pg.OptionalRow[conventionRow](ctx, tx, `SELECT `+conventionColumns+
			` FROM convention WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": key.ID})
		if err != nil {
			return fmt.Errorf("create convention: %w", err)
		}
		if again {
			if err := key.Replays(row.BodyDigest); err != nil {
				return err
			}
			out, err = row.convention()
			return err
		}
		if found, err = settleConvention(ctx, by, tx, "create_convention", key.ID, c, found,
			accept); err != nil {
			return err
		}
		content, err := storedConvention(c)
		if err != nil {
			return err
		}
		row, err = pg.Row[conventionRow](ctx, tx,
			`INSERT INTO convention (centre_id, id, code, name, content, body_digest, created_at, updated_at)
			VALUES (app_centre(), @id, @code, @name, @content, @digest, @now, @now) RETURNING `+conventionColumns,
			pgx.StrictNamedArgs{"id": key.ID, "code": c.Code, "name": c.Name, "content": content,
				"digest": key.Digest, "now": tx.Now})
		if err != nil {
			return err
		}
		created = true
		out, err = row.convention()
		return err
	})
	return out, found, created, err
}

// ChangeConvention edits the version named of one of the centre's own. It is
// examined anew; a caution that was accepted before need not be accepted again.
// Briefings keep the copy that they were given with.
func (s *Service) ChangeConvention(ctx context.Context, by actor.Actor, code string, version int64,
	edit func(*signal.Convention), accept []journal.Acceptance) (out Convention, found finding.List, err error) {
	if _, ok := ready(code); ok {
		return out, nil, fault.WrongState("convention", "one that comes with the service",
			"Create your own beside it, and change that.")
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		c, err := findConvention(ctx, tx, code, "FOR UPDATE")
		if err != nil {
			return err
		}
		if c.Version != version {
			return fault.Changed(c.Version)
		}
		edit(&c.Convention)
		found = CheckConvention(c.Convention)
		if found, err = settleConvention(ctx, by, tx, "change_convention", c.ID, c.Convention, found,
			accept); err != nil {
			return err
		}
		content, err := storedConvention(c.Convention)
		if err != nil {
			return err
		}
		row, err := pg.Row[conventionRow](ctx, tx,
			`UPDATE convention SET name = @name, content = @content, version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id RETURNING `+conventionColumns,
			pgx.StrictNamedArgs{"id": c.ID, "name": c.Name, "content": content, "now": tx.Now})
		if err != nil {
			return err
		}
		out, err = row.convention()
		return err
	})
	return out, found, err
}

// settleConvention lets a convention stand or refuses it, and keeps the decision. It returns what was found,
// with who accepted each caution.
func settleConvention(ctx context.Context, by actor.Actor, tx *pg.Tx, kind string, id uuid.UUID,
	c signal.Convention, found finding.List,
	accept []journal.Acceptance) (finding.List, error) {
	before, err := journal.Accepted(ctx, tx, "convention", id)
	if err != nil {
		return found, err
	}
	if accept, err = journal.Accepting(ctx, tx, by.Person, accept); err != nil {
		return found, err
	}
	if found, err = journal.RequireAccepted(by, found, accept, before...); err != nil {
		return found, err
	}
	stored, err := json.Marshal(asStored(c))
	if err != nil {
		return found, fmt.Errorf("write convention: %w", err)
	}
	return found, journal.Decide(ctx, by, tx,
		journal.Decision{Kind: kind, Subject: finding.Subject{Type: "convention", ID: id.String()},
			JudgedOn: decision.JudgedOn{Convention: stored}.Stamped(), Findings: found, Accepted: accept})
}

func codeTaken() *fault.Fault {
	return fault.New(fault.Conflict, "code_taken",
		"Another convention has this code, a ready one or one of your centre's. Choose another code, or change that convention.")
}

// Shown is a reading as a convention puts it on the hands.
type Shown struct {
	Convention signal.Convention // in the unit that is shown
	Reading    units.Reading     // rounded to its step
	Gestures   signal.Sequence
}

// show rounds a reading to the convention's step, up for a turn or low-gas
// pressure and down for any other, and puts it on the hands.
func show(c signal.Convention, r units.Reading, up bool) (Shown, finding.List) {
	if up && r.Unit.Dimension() == units.Pressures {
		r = c.Up(r)
	}
	seq, found := c.Encode(r)
	if found.Forbids() {
		return Shown{}, found
	}
	return Shown{Convention: c, Reading: c.Down(r), Gestures: seq}, found
}

// Encode puts a reading on the hands by a convention, for a diver whose gauge
// shows the unit given, "" for the convention's own. up rounds up, as a turn or
// low-gas pressure is. Refused when the hands cannot show it.
func (s *Service) Encode(ctx context.Context, by actor.Actor, code string, r units.Reading, gauge units.Unit,
	up bool) (Shown, error) {
	c, err := s.Convention(ctx, by, code)
	if err != nil {
		return Shown{}, err
	}
	if gauge != "" {
		c.Convention = c.In(gauge)
	}
	out, found := show(c.Convention, r, up)
	if found.Forbids() {
		return Shown{}, fault.RefusedBy(found)
	}
	return out, nil
}

// Decode returns every way to understand gestures by a convention, with a caution
// when there are several; gestures that say nothing are refused with the reason.
func (s *Service) Decode(ctx context.Context, by actor.Actor, code string, seq signal.Sequence,
	gauge units.Unit) ([]signal.Interpretation, finding.List, error) {
	c, err := s.Convention(ctx, by, code)
	if err != nil {
		return nil, nil, err
	}
	if gauge != "" {
		c.Convention = c.In(gauge)
	}
	said, found := c.Decode(seq)
	if found.Forbids() {
		return nil, nil, fault.RefusedBy(found)
	}
	return said, found, nil
}

// Differences returns what differs in a convention from one that is known.
func (s *Service) Differences(ctx context.Context, by actor.Actor, here, known string) ([]signal.Difference,
	error) {
	a, err := s.Convention(ctx, by, here)
	if err != nil {
		return nil, err
	}
	b, err := s.Convention(ctx, by, known)
	if err != nil {
		return nil, err
	}
	return a.Differences(b.Convention), nil
}

// conventionRow is a convention as its table has it.
type conventionRow struct {
	ID         uuid.UUID
	Code       string
	Name       string
	Content    []byte
	BodyDigest []byte
	Version    int64
	CreatedAt  time.Time
	UpdatedAt  time.Time
}

const conventionColumns = `id, code, name, content, body_digest, version, created_at, updated_at`

func (r conventionRow) convention() (Convention, error) {
	c, err := readConvention(r.Content)
	if err != nil {
		return Convention{}, err
	}
	c.Code, c.Name = r.Code, r.Name
	return Convention{Convention: c, ID: r.ID, Version: r.Version, CreatedAt: &r.CreatedAt,
		UpdatedAt: &r.UpdatedAt}, nil
}

func findConvention(ctx context.Context, tx *pg.Tx, code, lock string) (Convention, error) {
	if c, ok := ready(code); ok {
		return c, nil
	}
	row, found, err := pg.OptionalRow[conventionRow](ctx, tx, `SELECT `+conventionColumns+
		` FROM convention WHERE centre_id = app_centre() AND code = @code `+lock,
		pgx.StrictNamedArgs{"code": code})
	if err == nil && !found {
		err = fault.NoSuch("convention")
	}
	if err != nil {
		return Convention{}, err
	}
	return row.convention()
}

// conventionContent is how a convention is stored: in its own table, and as the
// copy that a briefing keeps.
type conventionContent struct {
	Code   string        `json:"code"`
	Name   string        `json:"name"`
	Note   string        `json:"note"`
	Unit   units.Unit    `json:"unit"`
	Hands  signal.Hands  `json:"hands"`
	Style  signal.Style  `json:"style"`
	Ten    string        `json:"ten"`
	Region signal.Region `json:"region"`
	Signs  []storedSign  `json:"signs"`
}

type storedSign struct {
	Meaning signal.Meaning `json:"meaning"`
	Gesture signal.Gesture `json:"gesture"`
}

func asStored(c signal.Convention) conventionContent {
	out := conventionContent{Code: c.Code, Name: c.Name, Note: c.Note, Unit: c.Unit, Hands: c.Hands,
		Style: c.Style, Ten: string(c.Ten), Region: c.Region,
		Signs: make([]storedSign, len(c.Signs))}
	for i, x := range c.Signs {
		out.Signs[i] = storedSign(x)
	}
	return out
}

func storedConvention(c signal.Convention) (string, error) {
	text, err := json.Marshal(asStored(c))
	if err != nil {
		return "", fmt.Errorf("write convention: %w", err)
	}
	return string(text), nil
}

func readConvention(content []byte) (signal.Convention, error) {
	var x conventionContent
	if err := json.Unmarshal(content, &x); err != nil {
		return signal.Convention{}, fmt.Errorf("read convention: %w", err)
	}
	c := signal.Convention{Code: x.Code, Name: x.Name, Note: x.Note, Unit: x.Unit, Hands: x.Hands,
		Style: x.Style, Ten: signal.Gesture(x.Ten), Region: x.Region}
	for _, s := range x.Signs {
		c.Signs = append(c.Signs, signal.Sign(s))
	}
	return c, nil
}

// samples are numbers that tell conventions apart: a usual reading, one in which
// both hands matter, half a tank, and a low one, in steps of 100 psi or 10 bar.
var samples = []float64{17, 26, 10, 5}

// Samples returns a few numbers as a convention shows them, none when it can show
// no number.
func Samples(c signal.Convention) []Shown {
	var out []Shown
	for _, n := range samples {
		r := units.Read(n*c.Step().Value.Float(), c.Unit)
		if shown, found := show(c, r, false); !found.Forbids() {
			out = append(out, shown)
		}
	}
	return out
}
