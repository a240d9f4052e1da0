package migrate

import (
	"context"
	"io/fs"

	"github.com/golang-migrate/migrate/v4"
)

// WaitForTurn is for the test that keeps others from migrating.
var WaitForTurn = waitForTurn

// UpFiles is Up with migrations of a test's own. (The tests are in a package
// of their own because pgtest imports this one.)
func UpFiles(ctx context.Context, ownerURL string, files fs.FS) error {
	return migrator{url: ownerURL, files: files}.move(ctx, func(m *migrate.Migrate) error { return m.Up() })
}
