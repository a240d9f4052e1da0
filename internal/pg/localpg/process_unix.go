//go:build unix

package localpg

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

// identity is the user that the server runs as. PostgreSQL refuses to run as root, so
// root uses the user postgres, or else nobody.
type identity struct {
	drop     bool
	name     string
	uid, gid int
}

func identify() (identity, error) {
	if os.Geteuid() != 0 {
		return identity{}, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err := strconv.Atoi(u.Uid)
		if err != nil {
			return identity{}, fmt.Errorf("user %s: %w", name, err)
		}
		gid, err := strconv.Atoi(u.Gid)
		if err != nil {
			return identity{}, fmt.Errorf("user %s: %w", name, err)
		}
		return identity{drop: true, name: name, uid: uid, gid: gid}, nil
	}
	return identity{}, errors.New("PostgreSQL does not run as root, and there is neither a " +
		"user postgres nor nobody to run it as")
}

// attributes returns what puts a program into a process group of its own, so that Ctrl-C
// reaches it only through us, and runs it as the identity.
func (who identity) attributes() *syscall.SysProcAttr {
	a := &syscall.SysProcAttr{Setpgid: true}
	if who.drop {
		a.Credential = &syscall.Credential{Uid: uint32(who.uid), Gid: uint32(who.gid)}
	}
	return a
}

// own makes a private folder that the identity owns.
func (who identity) own(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if !who.drop {
		return nil
	}
	return os.Chown(dir, who.uid, who.gid)
}

// reaches returns an error unless the identity can enter a folder, which need not exist
// yet.
func (who identity) reaches(dir string) error {
	if !who.drop {
		return nil
	}
	for ; ; dir = filepath.Dir(dir) {
		info, err := os.Stat(dir)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err == nil && info.Mode().Perm()&0o001 == 0 {
			if s, ok := info.Sys().(*syscall.Stat_t); !ok || int(s.Uid) != who.uid {
				return fmt.Errorf("the server runs as user %s, who cannot see into %s; "+
					"choose a folder outside it", who.name, dir)
			}
		}
		if dir == filepath.Dir(dir) {
			return nil
		}
	}
}

// alive reports whether a process is running. A process that we may not signal counts.
func alive(pid int) bool {
	err := syscall.Kill(pid, 0)
	return err == nil || errors.Is(err, syscall.EPERM)
}

// killGroup ends a process and all its descendants in its group.
func killGroup(pid int) { _ = syscall.Kill(-pid, syscall.SIGKILL) }

// locked runs fn while no other process holds the lock on the file.
func locked(path string, fn func() error) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	defer f.Close() // gives the lock back, as does the end of the process
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX); err != nil {
		return fmt.Errorf("lock %s: %w", path, err)
	}
	return fn()
}
