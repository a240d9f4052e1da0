//go:build !unix

package localpg

import (
	"errors"
	"syscall"
)

// errNotUnix is the error on other systems, where only an existing server or a container
// can be used.
var errNotUnix = errors.New("a private server of our own needs a Unix system")

type identity struct{}

func identify() (identity, error)                 { return identity{}, errNotUnix }
func (identity) attributes() *syscall.SysProcAttr { return nil }
func (identity) own(string) error                 { return errNotUnix }
func (identity) reaches(string) error             { return errNotUnix }
func alive(int) bool                              { return false }
func killGroup(int)                               {}
func locked(_ string, fn func() error) error      { return fn() }
