// Command catalogue writes the catalogue of messages that GET /v1/rules answers with: by rule, the templates
// of the messages that the program makes findings of, with the name and the type of each part. It reads the
// source, where a template stands beside the parts that are put into it.
//
// It owns the reading of templates alone, and must not know a rule.
package main

import (
	"log"
	"os"
)

func main() {
	log.SetFlags(0)
	text, err := write(".", "tankside/internal/...")
	if err == nil {
		err = os.WriteFile("messages.gen.go", text, 0o644)
	}
	if err != nil {
		log.Fatal("catalogue: ", err)
	}
}
