package migrate

import (
	"context"
	"io/fs"
	"log/slog"
	"time"

	"github.com/golang-migrate/migrate/v4"
	"github.com/jackc/pgx/v5"
)

// WaitForTurn is for the test that keeps others from migrating.
func WaitForTurn(ctx context.Context, conn *pgx.Conn) error {
	return waitForTurn(ctx, conn, slog.New(slog.DiscardHandler))
}

// UpFiles is Up with migrations of a test's own. (The tests are in a package
// of their own because pgtest imports this one.)
func UpFiles(ctx context.Context, ownerURL string, files fs.FS) error {
	return UpFilesTold(ctx, ownerURL, files, slog.New(slog.DiscardHandler), patience)
}

// UpFilesTold is UpFiles that says what it does, and waits so long for others.
func UpFilesTold(ctx context.Context, ownerURL string, files fs.FS, log *slog.Logger,
	patience time.Duration) error {
	g := migrator{url: ownerURL, files: files, log: log, patience: patience}
	return g.move(ctx, func(m *migrate.Migrate) error { return m.Up() })
}

// DownFiles is DownUnlessLost with migrations of a test's own.
func DownFiles(ctx context.Context, ownerURL string, files fs.FS, destroy string) error {
	g := at(ownerURL)
	g.files = files
	return g.downUnlessLost(ctx, destroy)
}

// DatabaseOf returns the name of the database that an address leads to.
func DatabaseOf(url string) (string, error) {
	c, err := pgx.ParseConfig(url)
	if err != nil {
		return "", err
	}
	return c.Database, nil
}
