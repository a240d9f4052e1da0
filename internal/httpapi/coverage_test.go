package httpapi_test

import (
	"errors"
	"flag"
	"fmt"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/config"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"tankside/api"
)

// operation is one operation of the contract, as the tests see it.
type operation struct {
	*v3.Operation
	method, path string // the path as the contract writes it
	matches      *regexp.Regexp
	item         *v3.PathItem
	statuses     []string
}

// written is the contract with what judges answers by it.
type written struct {
	validator  validator.Validator
	operations []*operation
	components *v3.Components
}

// theContract reads the contract apart from the code under test. Members that the
// contract does not name are breaches too.
var theContract = sync.OnceValue(func() *written {
	doc, err := libopenapi.NewDocument(api.Document)
	if err != nil {
		panic(err)
	}
	v, errs := validator.NewValidator(doc, config.WithFormatAssertions(), config.WithoutSecurityValidation())
	if len(errs) > 0 {
		panic(errs[0])
	}
	model, err := doc.BuildV3Model()
	if err != nil {
		panic(err)
	}
	w := &written{validator: v, components: model.Model.Components}
	for path, item := range model.Model.Paths.PathItems.FromOldest() {
		pattern := regexp.MustCompile(`\\\{\w+\\\}`).ReplaceAllString(regexp.QuoteMeta(path), `[^/]+`)
		for method, op := range item.GetOperations().FromOldest() {
			w.operations = append(w.operations,
				&operation{Operation: op, method: strings.ToUpper(method), path: path,
					matches: regexp.MustCompile("^" + pattern +
						"$"), item: item, statuses: slices.Collect(op.Responses.Codes.KeysFromOldest())})
		}
	}
	return w
})

// find gives the operation that a request is for, nil for none. A path without
// parameters comes before one with.
func (w *written) find(r *http.Request) *operation {
	var found *operation
	for _, op := range w.operations {
		if op.method == r.Method && op.matches.MatchString(r.URL.Path) &&
			(found == nil || !strings.Contains(op.path, "{")) {
			found = op
		}
	}
	return found
}

// seen counts the answers to each operation by their status, and what rules had
// a say in them.
var seen = struct {
	sync.Mutex
	answers map[string]map[string]int
	refused map[string]bool // operations that a rule has refused
	against map[string]bool // operations done although a rule spoke against it
}{answers: map[string]map[string]int{}, refused: map[string]bool{}, against: map[string]bool{}}

// check holds an answer against the contract and notes that it was seen.
func check(r *http.Request, answer *http.Response) error {
	op := theContract().find(r)
	if op == nil {
		return nil // no part of the contract
	}
	status := fmt.Sprint(answer.StatusCode)
	seen.Lock()
	if seen.answers[op.OperationId] == nil {
		seen.answers[op.OperationId] = map[string]int{}
	}
	seen.answers[op.OperationId][status]++
	seen.Unlock()
	if err := op.takesSide(r, answer); err != nil {
		return err
	}
	if !slices.Contains(op.statuses, status) {
		return fmt.Errorf("%s answers %s, which the contract does not list", op.OperationId, status)
	}
	if ok, errs := theContract().validator.GetResponseBodyValidator().ValidateResponseBodyWithPathItem(r, answer,
		op.item, op.path); !ok {
		var all []error
		for _, e := range errs {
			all = append(all, fmt.Errorf("%s: %s %s", op.OperationId, e.Message, e.Reason))
			for _, v := range e.SchemaValidationErrors {
				all = append(all, fmt.Errorf("/%s: %s", strings.Join(v.InstancePath, "/"), v.Reason))
			}
		}
		return errors.Join(all...)
	}
	return nil
}

// refusals are the statuses by which an operation refuses for more than a
// malformed request.
var refusals = []string{"409", "412", "422", "428"}

// unproven lists the operations that no test has seen succeed, and each refusal
// that the contract lists and no test has seen.
func unproven() []string {
	var out []string
	for _, op := range theContract().operations {
		answers := seen.answers[op.OperationId]
		succeeded := false
		for status := range answers {
			succeeded = succeeded || strings.HasPrefix(status, "2")
		}
		if !succeeded {
			out = append(out, op.OperationId+" was never seen to succeed")
		}
		for _, status := range op.statuses {
			what := op.OperationId + " " + status
			if slices.Contains(refusals, status) && answers[status] == 0 {
				out = append(out, what+" was never seen")
			}
		}
	}
	return out
}

// TestMain fails a full run in which an operation, or its side, was left unproven.
func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	if code == 0 && whole() {
		for _, what := range append(unproven(), oneSided()...) {
			fmt.Fprintln(os.Stderr, "httpapi: "+what)
			code = 1
		}
	}
	os.Exit(code)
}

// whole tells whether every test was run.
func whole() bool {
	for _, name := range []string{"test.run", "test.skip", "test.fuzz", "test.list"} {
		if flag.Lookup(name).Value.String() != "" {
			return false
		}
	}
	return true
}
