package contract

import (
	"bytes"
	"fmt"
	"net/http"

	"github.com/pb33f/libopenapi-validator/cache"
)

// Built is what reading the contract built: a measure of what the start of the service costs.
type Built struct {
	Compiled int      // schemas that the validator has compiled
	Size     int      // of the document that each was compiled from, in bytes
	Ignored  []string // keywords of schemas by which bodies are not measured; none, or a body could cost anything
}

// Built returns what reading the contract built.
func (c *Contract) Built() Built {
	b := Built{Size: c.size, Ignored: c.passed}
	c.compiled.Range(func(uint64, *cache.SchemaCacheEntry) bool {
		b.Compiled++
		return true
	})
	return b
}

// Compare returns how many breaches of an operation's body the measure finds, and how many the validator
// does. Both find something or neither: a test holds them to it.
func (c *Contract) Compare(operationID string, body []byte) (measure, validator int, err error) {
	op, err := c.takesBody(operationID)
	if err != nil {
		return 0, 0, err
	}
	r, err := http.NewRequest(op.Method, op.Path, bytes.NewReader(body))
	if err != nil {
		return 0, 0, fmt.Errorf("contract: compare measures of a body: %w", err)
	}
	r.Header.Set("Content-Type", op.Media[0])
	_, errs := c.validator.GetRequestBodyValidator().ValidateRequestBodyWithPathItem(r, op.item, op.Path)
	return len(inContent(body, op.bodies[op.Media[0]])), len(translate(errs)), nil
}
