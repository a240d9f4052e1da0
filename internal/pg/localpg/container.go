package localpg

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// EnvImage names the variable with the image for the way Container, when it is not
// DefaultImage.
const EnvImage = "TANKSIDE_POSTGRES_IMAGE"

// DefaultImage is the official image.
const DefaultImage = "postgres:17-alpine"

// insideScript runs in the container. Like script it stops the server when its standard
// input ends; the engine ends it when the attached client, our child, is gone.
const insideScript = `exec 3<&0 </dev/null
docker-entrypoint.sh "$@" 3<&- &
server=$!
{ read _ <&3; kill -INT $server; } &
exec 3<&-
wait $server`

// inContainer is one container, run by the engine's own command line: the program needs
// no client library of the engine for a way that is seldom used.
type inContainer struct {
	engine   string // docker or podman
	name     string
	volume   string // "" for data in memory
	password string
}

// newContainer returns the container and the volume of a folder's server, or, where dir
// is "", those of a throw-away one.
func newContainer(dir string) (inContainer, error) {
	c := inContainer{name: "tankside-" + rand.Text()[:10], password: rand.Text()}
	if dir != "" {
		id := sha256.Sum256([]byte(dir))
		c.name = "tankside-" + hex.EncodeToString(id[:5])
		c.volume = c.name
	}
	for _, engine := range []string{"docker", "podman"} {
		if found(engine) {
			c.engine = engine
			return c, nil
		}
	}
	return c, errors.New("there is neither docker nor podman here")
}

func startContainer(ctx context.Context, o Options) (*Server, error) {
	if !o.Keep {
		o.Dir = ""
	}
	c, err := newContainer(o.Dir)
	if err != nil {
		return nil, err
	}
	if _, err := c.say(ctx, "version"); err != nil {
		return nil, err
	}
	if !o.Keep {
		return c.start(ctx, o)
	}
	if majorOfData(o.Dir) != 0 {
		return nil, fmt.Errorf("the data of %s are in files there, which another way wrote", o.Dir)
	}
	if err := os.MkdirAll(o.Dir, 0o755); err != nil {
		return nil, err
	}
	var s *Server
	err = locked(filepath.Join(o.Dir, "lock"), func() error {
		s, err = c.startLasting(ctx, o)
		return err
	})
	return s, err
}

// startLasting starts the server whose data are in the volume of the folder, or joins
// it. The folder itself keeps the password.
func (c inContainer) startLasting(ctx context.Context, o Options) (*Server, error) {
	secret := secretOf(o.Dir)
	text, err := os.ReadFile(secret)
	if errors.Is(err, os.ErrNotExist) {
		text = []byte(c.password)
		err = os.WriteFile(secret, text, 0o600)
	}
	if err != nil {
		return nil, err
	}
	c.password = string(text)
	if _, err := c.port(ctx); err != nil {
		return c.start(ctx, o)
	}
	s := &Server{way: Container, done: make(chan struct{})}
	if err := c.reach(ctx, s); err != nil {
		return nil, err
	}
	go func() {
		defer close(s.done)
		_, _ = c.say(context.Background(), "wait", c.name) // however it ended
	}()
	return s, nil
}

// secretOf returns the path of the password of the server whose data are in the volume
// of a folder. The file exists if the data do.
func secretOf(dir string) string { return filepath.Join(dir, "password") }

func inVolume(dir string) bool {
	_, err := os.Stat(secretOf(dir))
	return err == nil
}

// start runs the container as a child of this process.
func (c inContainer) start(ctx context.Context, o Options) (*Server, error) {
	image := os.Getenv(EnvImage)
	if image == "" {
		image = DefaultImage
	}
	if _, err := c.say(ctx, "image", "inspect", image); err != nil {
		fmt.Fprintf(o.Progress, "Fetching the image %s\n", image)
		pull := exec.CommandContext(ctx, c.engine, "pull", image)
		var said strings.Builder
		pull.Stdout, pull.Stderr = o.Progress, io.MultiWriter(o.Progress, &said)
		if err := pull.Run(); err != nil {
			return nil, fmt.Errorf("%s pull %s: %w: %s", c.engine, image, err,
				strings.TrimSpace(said.String()))
		}
	}
	cmd := exec.Command(c.engine, c.arguments(image)...)
	// not on the command line, where others could read it
	cmd.Env = append(os.Environ(), "POSTGRES_PASSWORD="+c.password)
	cmd.SysProcAttr = identity{}.attributes()
	var said outputTail
	cmd.Stdout, cmd.Stderr = &said, &said
	g, err := watch(cmd)
	if err != nil {
		return nil, err
	}
	s := &Server{way: Container, guard: g, done: g.done}
	if err := c.reach(ctx, s); err != nil {
		_ = s.Stop()
		return nil, fmt.Errorf("%w\n%s", err, said.String())
	}
	return s, nil
}

func (c inContainer) arguments(image string) []string {
	args := []string{"run", "--rm", "-i", "--name", c.name, "-p", "127.0.0.1::5432",
		"-e", "POSTGRES_PASSWORD", "-e", "POSTGRES_USER=" + Super, "-e", "PGDATA=/data/postgres"}
	settings := []string{"jit=off", "timezone=GMT", "log_timezone=GMT"}
	if c.volume != "" {
		args = append(args, "-v", c.volume+":/data")
	} else {
		args = append(args, "--tmpfs", "/data")
		settings = append(settings, "fsync=off", "synchronous_commit=off", "full_page_writes=off",
			"max_connections=200")
	}
	args = append(args, "--entrypoint", "/bin/sh", image, "-c", insideScript, "guard", "postgres")
	for _, setting := range settings {
		args = append(args, "-c", setting)
	}
	return args
}

// reach waits for the container's port, then for the server.
func (c inContainer) reach(ctx context.Context, s *Server) error {
	limit := time.Now().Add(60 * time.Second)
	for {
		port, err := c.port(ctx)
		if err == nil {
			s.address = address{host: "127.0.0.1", port: port, password: c.password}
			return s.answers(ctx, time.Until(limit))
		}
		select {
		case <-s.done:
			return errors.New("the container ended at once")
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
		if time.Now().After(limit) {
			return err
		}
	}
}

// port returns the port on this machine that leads to the server.
func (c inContainer) port(ctx context.Context) (int, error) {
	said, err := c.say(ctx, "port", c.name, "5432/tcp")
	if err != nil {
		return 0, err
	}
	first, _, _ := strings.Cut(said, "\n")
	_, port, err := net.SplitHostPort(strings.TrimSpace(first))
	if err != nil {
		return 0, fmt.Errorf("%s port: %w", c.engine, err)
	}
	return strconv.Atoi(port)
}

func (c inContainer) say(ctx context.Context, args ...string) (string, error) {
	said, err := exec.CommandContext(ctx, c.engine, args...).Output()
	if err != nil {
		return "", fmt.Errorf("%s %s: %w", c.engine, args[0], explained(err))
	}
	return string(said), nil
}

// outputTail keeps the end of a program's output.
type outputTail struct{ text []byte }

func (w *outputTail) Write(p []byte) (int, error) {
	w.text = append(w.text, p...)
	w.text = w.text[max(0, len(w.text)-4096):]
	return len(p), nil
}

func (w *outputTail) String() string { return strings.TrimSpace(string(w.text)) }
