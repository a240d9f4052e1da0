package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
)

// run writes all that is made of the contract.
func run() error {
	doc, err := bundle(os.DirFS("contract"))
	if err != nil {
		return err
	}
	whole, err := encode(doc)
	if err != nil {
		return err
	}
	if err := generate(whole); err != nil {
		return err
	}
	publish(doc)
	published, err := encode(doc)
	if err != nil {
		return err
	}
	return os.WriteFile("openapi.gen.yaml", published, 0o644)
}

// generate writes api.gen.go. The document that it is generated from names types of
// ours (x-go-type), is read by nobody else, and is not kept.
func generate(document []byte) error {
	dir, err := os.MkdirTemp("", "contract")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // the system tidies what is left of it
	file := filepath.Join(dir, "openapi.yaml")
	if err := os.WriteFile(file, document, 0o600); err != nil {
		return err
	}
	tool := exec.Command("go", "tool", "oapi-codegen", "-config", "oapi.yaml", file)
	tool.Stdout, tool.Stderr = os.Stdout, os.Stderr
	if err := tool.Run(); err != nil {
		return fmt.Errorf("oapi-codegen: %w", err)
	}
	return nil
}
