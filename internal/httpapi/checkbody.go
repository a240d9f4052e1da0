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
	i := slices.IndexFunc(c.operations, func(o *operation) bool { return o.ID == operationID })
	if i < 0 || len(c.operations[i].media) == 0 {
		return fmt.Errorf("httpapi: no operation %q takes a body", operationID)
	}
	op := c.operations[i]
	r, err := http.NewRequest(op.Method, op.Path, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("httpapi: check body: %w", err)
	}
	r.Header.Set("Content-Type", op.media[0])
	if len(body) == 0 {
		return breach(finding.List{noBody.Of("This operation needs a body.")})
	}
	if breaches := wellFormed(body, r); len(breaches) > 0 {
		return breach(breaches)
	}
	if ok, errs := c.validator.GetRequestBodyValidator().ValidateRequestBodyWithPathItem(r, op.item, op.Path); !ok {
		return breach(translate(errs))
	}
	return nil
}
