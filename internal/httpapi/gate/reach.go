package gate

import (
	"fmt"
	"strings"

	"tankside/api"
	"tankside/internal/actor"
	"tankside/internal/fault"
	"tankside/internal/httpapi/contract"
	"tankside/internal/permission"
)

// reach returns how far a caller reaches with the operation, by their roles and scopes. What needs no
// token is open to all.
func reach(op *contract.Operation, by actor.Actor) permission.Reach {
	switch {
	case op.Free:
		return permission.All
	case op.Scope != "" && !by.May(actor.Scope(op.Scope)):
		return permission.None
	}
	return permission.Of(op.ID, by)
}

// permit returns the fault missing_scope or missing_role where the caller may not do the operation
// at all. What depends on rows is left to the service.
func permit(op *contract.Operation, by actor.Actor) error {
	if op.Scope != "" && !by.May(actor.Scope(op.Scope)) {
		return fault.MissingScope(op.Scope)
	}
	return permission.Require(op.ID, by)
}

// checkPermissions returns an error unless the operations of the contract and the rows of the table of
// permissions are the same.
func checkPermissions(operations []*contract.Operation) error {
	var wrong []string
	described := map[string]bool{}
	for _, op := range operations {
		described[op.ID] = true
		if _, ok := permission.Find(op.ID); !ok {
			wrong = append(wrong, op.ID+" has no row")
		}
	}
	for _, row := range permission.Table() {
		if !described[row.Operation] {
			wrong = append(wrong, row.Operation+" is no operation of the contract")
		}
	}
	if len(wrong) > 0 {
		return fmt.Errorf("table of permissions: %s", strings.Join(wrong, "; "))
	}
	return nil
}

// Permitted returns the operations that the caller's roles and scopes allow, with their reach, in the
// order of their ids.
func Permitted(c *contract.Contract, by actor.Actor) []api.Permission {
	out := make([]api.Permission, 0, len(c.Operations))
	for _, op := range c.Operations {
		if far := reach(op, by); far > permission.None {
			out = append(out, api.Permission{Operation: op.ID, Reach: far.String()})
		}
	}
	return out
}
