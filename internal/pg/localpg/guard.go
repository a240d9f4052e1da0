package localpg

import (
	"errors"
	"fmt"
	"io"
	"os/exec"
	"time"
)

// script runs a server as the guard's child. It stops the server when its standard
// input ends, which is when this process closes the pipe or dies of any cause; and it
// ends itself when the server does.
//
//	$1 signal to stop the server with   $2 its log file
//	$3 folder to remove afterwards      $4... the server
const script = `signal=$1 log=$2 remove=$3; shift 3
exec 3<&0 </dev/null
"$@" 3<&- >>"$log" 2>&1 &
server=$!
{ read _ <&3; kill -"$signal" $server; } >/dev/null 2>&1 &
watch=$!
exec 3<&-
wait $server; status=$?
kill $watch 2>/dev/null
cd / && rm -rf "$remove"
exit $status`

// guard is the running script and the pipe that keeps it running.
type guard struct {
	cmd  *exec.Cmd
	pipe io.WriteCloser
	done chan struct{} // closed when the server and the script have ended
}

// guarded is what a guard needs to know of its server.
type guarded struct {
	who     identity
	env     []string
	signal  string // "QUIT" drops everything at once, "INT" ends in order
	log     string
	remove  string
	command []string
}

func (g guarded) start() (*guard, error) {
	args := append([]string{"-c", script, "guard", g.signal, g.log, g.remove}, g.command...)
	cmd := exec.Command("/bin/sh", args...)
	cmd.Dir = "/" // a folder that every user can be in
	cmd.Env = g.env
	cmd.SysProcAttr = g.who.attributes()
	return watch(cmd)
}

// watch runs a command that ends when its standard input does.
func watch(cmd *exec.Cmd) (*guard, error) {
	pipe, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	run := &guard{cmd: cmd, pipe: pipe, done: make(chan struct{})}
	go func() {
		_ = cmd.Wait() // how the server ended is in its log
		_ = pipe.Close()
		close(run.done)
	}()
	return run, nil
}

// stop closes the pipe and waits; after the limit it kills the server.
func (g *guard) stop(limit time.Duration) error {
	if err := g.pipe.Close(); err != nil {
		select {
		case <-g.done: // it had ended already, and closed the pipe
			return nil
		default:
		}
	}
	select {
	case <-g.done:
		return nil
	case <-time.After(limit):
	}
	killGroup(g.cmd.Process.Pid)
	select {
	case <-g.done:
		return fmt.Errorf("the private PostgreSQL did not end within %s and was killed", limit)
	case <-time.After(5 * time.Second):
		return errors.New("the private PostgreSQL cannot be stopped")
	}
}
