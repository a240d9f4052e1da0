package courses

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/finding"
	"tankside/internal/once"
	"tankside/internal/page"
	"tankside/internal/pg"
	"tankside/internal/syllabus"
)

// Syllabus is a title with a sequence of versions.
type Syllabus struct {
	ID         uuid.UUID
	Title      string
	CopiedFrom *string // a built-in syllabus, or "<id>/<number>" of another
	Newest     int     // the number of the newest version
	Version    int64
	CreatedAt  time.Time
	UpdatedAt  time.Time
}

const syllabusColumns = `id, title, copied_from, newest, version, created_at, updated_at`

// SyllabusVersion is the content of one version, which never changes.
type SyllabusVersion struct {
	ID         uuid.UUID
	SyllabusID uuid.UUID
	Number     int
	Content    syllabus.Syllabus
	Note       *string
	MadeBy     *uuid.UUID
	MadeAt     time.Time
}

// Findings returns where the version asks for less than common practice does, each
// with its place under /content.
func (v SyllabusVersion) Findings() finding.List { return findingsOf(v.Content) }

// findingsOf returns the findings about a content, with places under /content.
func findingsOf(content syllabus.Syllabus) finding.List {
	found := syllabus.Validate(content)
	for i := range found {
		found[i].Pointer = "/content" + found[i].Pointer
	}
	return found
}

const versionColumns = `id, syllabus_id, number, content, note, made_by, made_at`

// NewSyllabus asks for a syllabus: a copy of a built-in one, a copy of another of
// the centre's, or the given content.
type NewSyllabus struct {
	once.Key
	Title   string
	BuiltIn string     // the code of a built-in syllabus, "" for none
	CopyOf  *uuid.UUID // another syllabus of the centre, in its newest version
	Content *syllabus.Syllabus
}

// CreateSyllabus adds a syllabus with its first version, for managers and
// instructors. Faults: Refused for an invalid content or an unknown source;
// id_reused.
func (s *Service) CreateSyllabus(ctx context.Context, by actor.Actor, n NewSyllabus) (out Syllabus,
	created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		type row struct {
			Syllabus
			BodyDigest []byte
		}
		present, found, err := pg.OptionalRow[row](ctx, tx, `SELECT `+syllabusColumns+
			`, body_digest FROM syllabus WHERE centre_id = app_centre() AND id = @id`,
			pgx.StrictNamedArgs{"id": n.ID})
		if err == nil && found {
			out, created = present.Syllabus, false
			return n.Replays(present.BodyDigest)
		}
		if err != nil {
			return err
		}
		content, from, err := firstContent(ctx, tx, n)
		if err != nil {
			return err
		}
		if _, err := tx.Do(ctx, `INSERT INTO syllabus (centre_id, id, title, copied_from, newest,
			body_digest, created_at, updated_at)
			VALUES (app_centre(), @id, @title, @from, 0, @digest, @now, @now)`,
			pgx.StrictNamedArgs{"id": n.ID, "title": n.Title, "from": from, "digest": n.Digest,
				"now": tx.Now}); err != nil {
			return err
		}
		// The version has an id of its own: a client may use the syllabus's for another version.
		first := once.Key{ID: uuid.Must(uuid.NewV7()), Digest: n.Digest}
		if _, err := addVersion(ctx, by, tx, n.ID, content, nil, first); err != nil {
			return err
		}
		created = true
		out, err = findSyllabus(ctx, tx, n.ID, "")
		return err
	})
	return out, created, err
}

// firstContent returns the content of a new syllabus, and the source of a copy.
func firstContent(ctx context.Context, tx *pg.Tx, n NewSyllabus) (syllabus.Syllabus, *string, error) {
	given := 0
	for _, is := range []bool{n.Content != nil, n.BuiltIn != "", n.CopyOf != nil} {
		if is {
			given++
		}
	}
	switch {
	case given != 1:
		return syllabus.Syllabus{}, nil,
			fault.Invalid("", "Say what the syllabus begins with, and only once: built_in, "+
				"copy_of or content.")
	case n.Content != nil:
		return *n.Content, nil, nil
	case n.BuiltIn != "":
		for _, b := range BuiltIns() {
			if b.Code == n.BuiltIn {
				return b, &n.BuiltIn, nil
			}
		}
		return syllabus.Syllabus{}, nil, fault.UnknownReference("built-in syllabus", "/built_in")
	}
	v, found, err := pg.OptionalRow[SyllabusVersion](ctx, tx, `SELECT `+versionColumns+` FROM syllabus_version
		WHERE centre_id = app_centre() AND syllabus_id = @id
		ORDER BY number DESC LIMIT 1`, pgx.StrictNamedArgs{"id": *n.CopyOf})
	if err == nil && !found {
		err = fault.UnknownReference("syllabus", "/copy_of")
	}
	from := fmt.Sprintf("%s/%d", n.CopyOf, v.Number)
	return v.Content, &from, err
}

// BuiltIns returns the syllabuses that come with the service.
func BuiltIns() []syllabus.Syllabus { return []syllabus.Syllabus{syllabus.BuiltIn()} }

// addVersion validates a content and adds it as the next version.
func addVersion(ctx context.Context, who actor.Actor, tx *pg.Tx, id uuid.UUID, content syllabus.Syllabus,
	note *string,
	key once.Key) (int, error) {
	if found := findingsOf(content); found.Forbids() {
		return 0, fault.RefusedBy(found)
	}
	raw, err := json.Marshal(content.ForStore())
	if err != nil {
		return 0, fmt.Errorf("write syllabus: %w", err)
	}
	var by *uuid.UUID
	if !who.IsProgram() {
		by = &who.Person
	}
	return pg.Row[int](ctx, tx, `WITH next AS (
			UPDATE syllabus
			SET newest = newest + 1, version = version + CASE WHEN newest = 0 THEN 0 ELSE 1 END,
				updated_at = @now
			WHERE centre_id = app_centre() AND id = @id RETURNING newest)
		INSERT INTO syllabus_version (centre_id, id, syllabus_id, number, content, level, note, made_by,
		made_at, body_digest)
		SELECT app_centre(), @version, @id, newest, @content, @level, @note, @by, @now, @digest
		FROM next RETURNING number`,
		pgx.StrictNamedArgs{"id": id, "version": key.ID, "content": string(raw), "level": content.Level,
			"note": note, "by": by, "digest": key.Digest, "now": tx.Now})
}

func findSyllabus(ctx context.Context, tx *pg.Tx, id uuid.UUID, lock string) (Syllabus, error) {
	y, found, err := pg.OptionalRow[Syllabus](ctx, tx, `SELECT `+syllabusColumns+
		` FROM syllabus WHERE centre_id = app_centre() AND id = @id `+lock,
		pgx.StrictNamedArgs{"id": id})
	if err == nil && !found {
		err = fault.NoSuch("syllabus")
	}
	return y, err
}

// Syllabuses returns syllabuses by title.
func (s *Service) Syllabuses(ctx context.Context, by actor.Actor,
	p page.Request) (out []Syllabus, next *page.Place, err error) {
	args := pgx.StrictNamedArgs{}
	from, order, err := p.SQL(page.Column{Name: "title", Type: "text"}, args)
	if err != nil {
		return nil, nil, err
	}
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		rows, err := pg.Rows[Syllabus](ctx, tx, `SELECT `+syllabusColumns+
			` FROM syllabus WHERE centre_id = app_centre() AND `+from+` `+order, args)
		out, next = page.Cut(p, rows, func(y Syllabus) page.Place {
			return page.Place{Key: y.Title,
				ID: y.ID}
		})
		return err
	})
	return out, next, err
}

// Syllabus returns one syllabus.
func (s *Service) Syllabus(ctx context.Context, by actor.Actor, id uuid.UUID) (out Syllabus, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findSyllabus(ctx, tx, id, "")
		return err
	})
	return out, err
}

// RenameSyllabus changes the title of the given version of the row.
func (s *Service) RenameSyllabus(ctx context.Context, by actor.Actor, id uuid.UUID, version int64,
	edit func(title *string)) (out Syllabus, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		y, err := findSyllabus(ctx, tx, id, "FOR NO KEY UPDATE")
		if err == nil && y.Version != version {
			err = fault.Changed(y.Version)
		}
		if err != nil {
			return err
		}
		edit(&y.Title)
		out, err = pg.Row[Syllabus](ctx, tx, `UPDATE syllabus
			SET title = @title, version = version + 1, updated_at = @now
			WHERE centre_id = app_centre() AND id = @id
			RETURNING `+syllabusColumns, pgx.StrictNamedArgs{"id": id, "title": y.Title, "now": tx.Now})
		return err
	})
	return out, err
}

// AddSyllabusVersion adds the next version of a syllabus. Running courses keep the
// version that they started with. A repeated request gets the answer of the first;
// under another id, an earlier content becomes the newest version again.
func (s *Service) AddSyllabusVersion(ctx context.Context, by actor.Actor, id uuid.UUID,
	content syllabus.Syllabus,
	note *string, key once.Key) (out SyllabusVersion, found finding.List, created bool, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findSyllabus(ctx, tx, id, "FOR NO KEY UPDATE"); err != nil {
			return err
		}
		type row struct {
			Number     int
			BodyDigest []byte
		}
		v, again, err := pg.OptionalRow[row](ctx, tx, `SELECT number, body_digest
			FROM syllabus_version WHERE centre_id = app_centre()
			AND (id = @key OR syllabus_id = @id
				AND body_digest = @digest)`, pgx.StrictNamedArgs{"id": id, "key": key.ID,
			"digest": key.Digest})
		switch {
		case err != nil:
		case again:
			err = key.Replays(v.BodyDigest)
		default:
			v.Number, err = addVersion(ctx, by, tx, id, content, note, key)
		}
		if err != nil {
			return err
		}
		created, found = !again, findingsOf(content)
		out, err = findVersion(ctx, tx, id, v.Number)
		return err
	})
	return out, found, created, err
}

func findVersion(ctx context.Context, tx *pg.Tx, id uuid.UUID, number int) (SyllabusVersion, error) {
	v, found, err := pg.OptionalRow[SyllabusVersion](ctx, tx, `SELECT `+versionColumns+` FROM syllabus_version
		WHERE centre_id = app_centre() AND syllabus_id = @id
			AND number = @number`, pgx.StrictNamedArgs{"id": id, "number": number})
	if err == nil && !found {
		err = fault.NoSuch("version of that syllabus")
	}
	return v, err
}

// SyllabusVersions returns the versions of a syllabus, the newest first.
func (s *Service) SyllabusVersions(ctx context.Context, by actor.Actor, id uuid.UUID) (out []SyllabusVersion,
	err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		if _, err := findSyllabus(ctx, tx, id, ""); err != nil {
			return err
		}
		out, err = pg.Rows[SyllabusVersion](ctx, tx, `SELECT `+versionColumns+` FROM syllabus_version
			WHERE centre_id = app_centre() AND syllabus_id = @id
			ORDER BY number DESC`, pgx.StrictNamedArgs{"id": id})
		return err
	})
	return out, err
}

// SyllabusVersion returns one version.
func (s *Service) SyllabusVersion(ctx context.Context, by actor.Actor, id uuid.UUID,
	number int) (out SyllabusVersion, err error) {
	err = s.db.InTx(ctx, by.Centre, func(ctx context.Context, tx *pg.Tx) error {
		out, err = findVersion(ctx, tx, id, number)
		return err
	})
	return out, err
}
