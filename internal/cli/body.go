package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"tankside/internal/fault"
	"tankside/internal/httpapi"
)

// mostBody is how much of a file is read: as much as the service takes of a
// request, 1 MiB.
const mostBody = 1 << 20

// readBody reads a JSON file, or in where its name is -, in the form that an
// operation of the API takes as its body, and as strictly.
func readBody(name string, in io.Reader, operationID string, into any) error {
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return fmt.Errorf("read what is asked: %w", err)
		}
		defer f.Close()
		in = f
	}
	body, err := io.ReadAll(io.LimitReader(in, mostBody+1))
	switch {
	case err != nil:
		return fmt.Errorf("read what is asked: %w", err)
	case len(body) > mostBody:
		return errors.New("the file is larger than 1 MiB, which is as much as the API takes")
	}
	if err := httpapi.CheckBody(operationID, body); err != nil {
		return said(err)
	}
	if err := json.Unmarshal(body, into); err != nil {
		return fmt.Errorf("read what is asked: %w", err)
	}
	return nil
}

// said writes a fault as the caller of the API would read it: each finding with
// its place.
func said(err error) error {
	var f *fault.Fault
	if !errors.As(err, &f) {
		return err
	}
	if len(f.Findings) == 0 {
		return errors.New(f.Message)
	}
	lines := make([]string, 0, len(f.Findings))
	for _, x := range f.Findings {
		line := x.Message
		if x.Pointer != "" {
			line = "at " + x.Pointer + ": " + line
		}
		lines = append(lines, line)
	}
	return errors.New(strings.Join(lines, "\n"))
}
