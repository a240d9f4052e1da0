package briefings

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/fault"
	"tankside/internal/pg"
	"tankside/internal/signal"
	"tankside/internal/units"
)

// conventionRow is a row of the centre's own conventions.
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

// findConvention returns a ready convention, or one of the centre's own, which is locked
// as lock has it. Fault: not_found.
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

// conventionContent is the form in which a convention is stored: in its own table, in the
// copy that a briefing keeps, and in digests. Its tags never change.
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

// contentOf returns a convention as it is stored.
func contentOf(c signal.Convention) conventionContent {
	out := conventionContent{Code: c.Code, Name: c.Name, Note: c.Note, Unit: c.Unit, Hands: c.Hands,
		Style: c.Style, Ten: string(c.Ten), Region: c.Region,
		Signs: make([]storedSign, len(c.Signs))}
	for i, x := range c.Signs {
		out.Signs[i] = storedSign(x)
	}
	return out
}

// conventionJSON returns the JSON of a convention as it is stored.
func conventionJSON(c signal.Convention) (string, error) {
	text, err := json.Marshal(contentOf(c))
	if err != nil {
		return "", fmt.Errorf("write convention: %w", err)
	}
	return string(text), nil
}

// readConvention returns a convention from its stored JSON.
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
