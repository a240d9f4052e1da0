package localpg

import (
	"context"
	"errors"
	"os"
	"path/filepath"
)

// Erase removes the data of the lasting server of a folder, wherever they are kept. The
// server must have been stopped. Without data it returns nil.
func Erase(ctx context.Context, dir string) error {
	err := errors.Join(os.RemoveAll(filepath.Join(dir, "postgres")), os.RemoveAll(filepath.Join(dir, "lock")))
	if inVolume(dir) {
		c, failed := newContainer(dir)
		if failed == nil {
			_, failed = c.say(ctx, "volume", "rm", "--force", c.volume)
		}
		err = errors.Join(err, failed, os.Remove(secretOf(dir)))
	}
	return err
}
