package httpapi

import (
	"bytes"
	"fmt"
	"net/http"
	"slices"

	"tankside/internal/finding"
)

// CheckBody checks a JSON body as the operation of that id does, so that commands
// read a file in the contract's own schema as strictly as the service reads a
// request. The error is the fault that a caller would be answered, its findings
// saying where; of an id that the contract does not have it is no fault.
func CheckBody(operationID string, body []byte) error {
	c, err := theContract()
	if err != nil {
		return err
	}
	if _, err := c.takesBody(operationID); err != nil {
		return err
	}
	if len(body) == 0 {
		return breach(finding.List{noBody.Of("This operation needs a body.")})
	}
	return c.checkItem(operationID, body)
}

// checkItem is CheckBody for a body that is there.
func (c *contract) checkItem(operationID string, body []byte) error {
	op, err := c.takesBody(operationID)
	if err != nil {
		return err
	}
	if found := op.checkBody(op.media[0], body); len(found) > 0 {
		return breach(found)
	}
	r, err := http.NewRequest(op.Method, op.Path, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("httpapi: check body: %w", err)
	}
	r.Header.Set("Content-Type", op.media[0])
	if ok, errs := c.validator.GetRequestBodyValidator().ValidateRequestBodyWithPathItem(r, op.item,
		op.Path); !ok {
		return breach(translate(errs))
	}
	return nil
}

// takesBody finds an operation that takes a body.
func (c *contract) takesBody(id string) (*operation, error) {
	i := slices.IndexFunc(c.operations, func(o *operation) bool { return o.ID == id })
	if i < 0 || len(c.operations[i].media) == 0 {
		return nil, fmt.Errorf("httpapi: no operation %q takes a body", id)
	}
	return c.operations[i], nil
}
