//go:build !unix

package localpg

import (
	"errors"
	"syscall"
)

// On a system that is not a Unix only a server that is there already can be
// used, or a container.
var errNotUnix = errors.New("a private server of our own needs a Unix system")

type identity struct{}

func identify() (identity, error)                 { return identity{}, errNotUnix }
func (identity) attributes() *syscall.SysProcAttr { return nil }
func (identity) own(string) error                 { return errNotUnix }
func (identity) reaches(string) error             { return errNotUnix }
func alive(int) bool                              { return false }
func killGroup(int)                               {}
func locked(_ string, fn func() error) error      { return fn() }
