// Command bundle makes one document of the files of the contract, and the server
// and the types of that. It is run by go generate in api, which it must be started
// in: it reads contract/*.yaml and oapi.yaml, and writes openapi.gen.yaml, which is
// published, and api.gen.go.
//
// It owns how the files are put together and what of them is published, and must
// not know what they describe.
package main

import (
	"fmt"
	"os"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}
