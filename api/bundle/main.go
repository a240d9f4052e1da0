// Command bundle makes one document of the files of the contract. It is run by go
// generate in api, which it must be started in: it reads contract/*.yaml and writes
// openapi.gen.yaml.
//
// It owns how the files are put together, and must not know what they describe.
package main

import (
	"fmt"
	"os"
)

func main() {
	if err := run("contract", "openapi.gen.yaml"); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

// run writes the document that the files of a directory make together.
func run(from, to string) error {
	doc, err := bundle(os.DirFS(from))
	if err != nil {
		return err
	}
	text, err := encode(doc)
	if err != nil {
		return err
	}
	return os.WriteFile(to, text, 0o644)
}
