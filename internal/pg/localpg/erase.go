package localpg

import (
	"context"
	"errors"
	"os"
	"path/filepath"
)

// Erase removes the data of the lasting server of a folder, which must have
// been stopped, wherever they are kept. It is not an error when there are none.
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
