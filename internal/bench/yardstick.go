package bench

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"tankside/internal/pg"
)

// yardstick runs scripts with pgbench.
type yardstick struct{ pgbench, dir, url string }

var failed = regexp.MustCompile(`number of failed transactions: [1-9]`)

// run returns the transactions a second of a number of clients with a number of
// transactions each. It is calculated from pgbench's log as rate does for the service.
func (y yardstick) run(ctx context.Context, j *job, clients, each int) (float64, error) {
	file, log := filepath.Join(y.dir, "script.sql"), filepath.Join(y.dir, "log")
	if err := os.WriteFile(file, []byte(j.script), 0o600); err != nil {
		return 0, err
	}
	base := j.used
	j.used += clients * each
	run := exec.CommandContext(ctx, y.pgbench, "-n", "-M", "prepared", "-c", strconv.Itoa(clients), "-j",
		strconv.Itoa(min(clients, 2)),
		"-t", strconv.Itoa(each), "-D", "i=-1", "-D", fmt.Sprintf("base=%d", base), "-D",
		fmt.Sprintf("each=%d", each),
		"-l", "--log-prefix="+log, "-f", file, y.url)
	run.Env = append(os.Environ(), "PGOPTIONS=-c plan_cache_mode="+pg.PlanCacheMode)
	out, err := run.CombinedOutput()
	if err != nil || failed.Match(out) {
		return 0, fmt.Errorf("pgbench: %w\n%s", err, out)
	}
	ends, err := readLogs(log, clients)
	if err == nil && len(ends[0]) != each {
		err = fmt.Errorf("pgbench: the log has %d transactions of the first client, not %d",
			len(ends[0]), each)
	}
	return rate(ends), err
}

// readLogs reads and removes the logs of one run: one file for each thread.
func readLogs(prefix string, clients int) ([][]time.Time, error) {
	files, err := filepath.Glob(prefix + ".*")
	if err != nil {
		return nil, err
	}
	ends := make([][]time.Time, clients)
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		if err := readLog(content, ends); err != nil {
			return nil, fmt.Errorf("pgbench: %w", err)
		}
		if err := os.Remove(file); err != nil {
			return nil, err
		}
	}
	return ends, nil
}

// readLog reads when transactions ended, by client. A line of the log has the client,
// the number, the latency, the script, and the end in seconds and microseconds.
func readLog(content []byte, ends [][]time.Time) error {
	lines := bufio.NewScanner(bytes.NewReader(content))
	for lines.Scan() {
		var client, number, latency, script, seconds, micros int64
		if _, err := fmt.Sscan(strings.TrimSpace(lines.Text()), &client, &number, &latency, &script, &seconds,
			&micros); err != nil {
			return fmt.Errorf("a line of the log is %q: %w", lines.Text(), err)
		}
		if client < 0 || client >= int64(len(ends)) {
			return fmt.Errorf("the log has a client %d", client)
		}
		ends[client] = append(ends[client], time.Unix(seconds, 1000*micros))
	}
	return lines.Err()
}
