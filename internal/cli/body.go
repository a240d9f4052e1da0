package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
)

// readBody reads a JSON file, or in where its name is -, as the body of an operation of
// the API, and as strictly.
func readBody(name string, in io.Reader, operationID string, into any) error {
	body, err := readAll(name, in)
	if err != nil {
		return fmt.Errorf("read what is asked: %w", err)
	}
	if err := contract.CheckBody(operationID, body); err != nil {
		return faultText(err)
	}
	if err := contract.DecodeBody(body, into); err != nil {
		return fmt.Errorf("read what is asked: %w", err)
	}
	return nil
}

// faultText returns a fault as the caller of the API would read it: each finding with its
// place.
func faultText(err error) error {
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
