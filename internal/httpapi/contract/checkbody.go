package contract

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"slices"

	"tankside/internal/finding"
)

// CheckBody checks a JSON body as the operation of that id does, so that commands
// read a file in the contract's own schema as strictly as the service reads a
// request. The error is the fault that a caller would be answered, its findings
// saying where; of an id that the contract does not have it is no fault.
func CheckBody(operationID string, body []byte) error {
	c, err := Read()
	if err != nil {
		return err
	}
	if _, err := c.takesBody(operationID); err != nil {
		return err
	}
	if len(body) == 0 {
		return MissingBody()
	}
	return c.CheckItem(operationID, body)
}

// CheckItem is CheckBody for a body that is there.
func (c *Contract) CheckItem(operationID string, body []byte) error {
	op, err := c.takesBody(operationID)
	if err != nil {
		return err
	}
	if found := op.checkBody(op.Media[0], body); len(found) > 0 {
		return Breach(found)
	}
	r, err := http.NewRequest(op.Method, op.Path, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("httpapi: check body: %w", err)
	}
	r.Header.Set("Content-Type", op.Media[0])
	if ok, errs := c.validator.GetRequestBodyValidator().ValidateRequestBodyWithPathItem(r, op.item,
		op.Path); !ok {
		return Breach(translate(errs))
	}
	return nil
}

// takesBody finds an operation that takes a body.
func (c *Contract) takesBody(id string) (*Operation, error) {
	i := slices.IndexFunc(c.Operations, func(o *Operation) bool { return o.ID == id })
	if i < 0 || len(c.Operations[i].Media) == 0 {
		return nil, fmt.Errorf("httpapi: no operation %q takes a body", id)
	}
	return c.Operations[i], nil
}

// MissingBody returns the fault of a request without the body that its operation requires.
func MissingBody() error {
	return Breach(finding.List{noBody.Say("This operation needs a body.")})
}

// CheckRequest checks a request of an operation whose body was read: its query, its headers and the
// body. The error is the fault that a caller is answered, with a finding for each breach. The items of a
// list that are refused one by one (x-each-alone) are left to entry.
func (c *Contract) CheckRequest(r *http.Request, op *Operation, body []byte) error {
	media, whole := r.Header.Get("Content-Type"), body
	found := append(storableQuery(r), unlisted(r, op)...)
	if op.alone.name != "" {
		found = append(found, overfull(body, op.bodies[mediaOf(media)])...)
		if len(found) > 0 {
			return Breach(found) // before anything else is made of it
		}
		whole = op.alone.around(body)
		r.Body = io.NopCloser(bytes.NewReader(whole))
		defer func() { r.Body = io.NopCloser(bytes.NewReader(body)) }()
	}
	found = append(found, op.checkBody(media, whole)...)
	if len(found) > 0 {
		return Breach(found)
	}
	if ok, errs := c.validator.ValidateHttpRequestSyncWithPathItem(r, op.item, op.Path); !ok {
		return Breach(translate(errs))
	}
	return nil
}
