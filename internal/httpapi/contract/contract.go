// Package contract reads the API's contract and checks requests against it: their query, their headers and
// their bodies, measured before the validator sees them, with a finding in plain words for each breach.
//
// It owns the rules of the contract itself (rules.go) and the bounds of what a request may cost (bounds.go).
// It must not know an operation's handler, a service, or who is calling.
package contract

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/cache"
	"github.com/pb33f/libopenapi-validator/config"
	"github.com/pb33f/libopenapi-validator/schema_validation"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"
	"go.yaml.in/yaml/v3"

	"tankside/api"
)

// Contract is the API's contract as the edge works with it.
type Contract struct {
	validator  validator.Validator
	Operations []*Operation // sorted by ID

	schemas    schema_validation.SchemaValidator
	batchEntry *base.Schema // of one entry of a batch
	entryShape *shape
	passed     []string // keywords that bodies are not measured by

	compiled cache.SchemaCache // what the validator compiled
	size     int               // of the document that each schema was compiled from, in bytes
}

// Operation is what the edge knows of one operation before its handler runs.
type Operation struct {
	ID     string
	Method string
	Path   string // as the contract writes it: /v1/sites/{id}
	Free   bool   // needs no token at all: security: []
	Scope  string // "" when any valid token will do
	Side   string // x-side: read, decision, fact or upkeep

	Media       []string // the media types of its body; none: it takes no body
	BodyNeeded  bool
	BodyLimit   int64 // x-body-limit, in bytes
	Conditional bool  // takes If-None-Match
	Lasting     bool  // what it answers never changes (x-lasting)
	DryRun      bool  // takes dry_run
	Ticket      bool  // may be opened by a ticket
	Stream      bool  // answers with events for as long as somebody reads

	item     *v3.PathItem
	query    []string          // the query parameters that it lists
	takes    map[string]int    // how often each of them may be given
	bodies   map[string]*shape // of its JSON bodies, by media type
	alone    alone             // the list in its body whose items are refused one by one
	statuses []string
}

// defaultBodyLimit is 1 MiB, our choice: a batch of a whole weekend's gas
// checks stays well below it. An operation that takes more says so in
// x-body-limit.
const defaultBodyLimit = 1 << 20

// Read returns the embedded contract, which is parsed once.
var Read = sync.OnceValues(Parse)

// Parse parses the embedded contract, which takes a moment. The service uses Read.
func Parse() (*Contract, error) {
	asked, err := requestSide(api.Document)
	if err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	text, err := yaml.Marshal(asked)
	if err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	doc, err := libopenapi.NewDocument(text)
	if err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	compiled := cache.NewDefaultCache()
	options := []config.Option{config.WithFormatAssertions(), config.WithoutSecurityValidation(),
		config.WithRegexCache(&sync.Map{}), // or it compiles each path anew for each request
		config.WithSchemaCache(compiled)}
	v, errs := validator.NewValidator(doc, options...)
	if len(errs) > 0 {
		return nil, fmt.Errorf("read contract: %w", errs[0])
	}
	model, err := doc.BuildV3Model()
	if err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	read, err := newShapes(asked)
	if err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	c := &Contract{validator: v, size: len(text), compiled: compiled,
		schemas: schema_validation.NewSchemaValidator(options...)}
	if c.batchEntry, err = componentSchema(model, "BatchEntry"); err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	if c.entryShape, err = read.shape(map[string]any{"$ref": "#/components/schemas/BatchEntry"}); err != nil {
		return nil, fmt.Errorf("read contract: %w", err)
	}
	for path, item := range model.Model.Paths.PathItems.FromOldest() {
		for method, op := range item.GetOperations().FromOldest() {
			o, err := readOperation(strings.ToUpper(method), path, item, op)
			if err == nil {
				err = o.readBodies(read)
			}
			if err != nil {
				return nil, fmt.Errorf("read contract: %s %s: %w", method, path, err)
			}
			c.Operations = append(c.Operations, o)
		}
	}
	c.passed = read.passed
	slices.SortFunc(c.Operations, func(a, b *Operation) int { return strings.Compare(a.ID, b.ID) })
	return c, nil
}

func readOperation(method, path string, item *v3.PathItem, op *v3.Operation) (*Operation, error) {
	o := &Operation{ID: op.OperationId, Method: method, Path: path, item: item, BodyLimit: defaultBodyLimit,
		takes: map[string]int{}, bodies: map[string]*shape{}}
	var err error
	if err = o.readSecurity(op); err != nil {
		return nil, err
	}
	for _, p := range slices.Concat(item.Parameters, op.Parameters) {
		switch {
		case p.In == "query":
			o.query = append(o.query, p.Name)
			o.takes[p.Name] = times(p)
			o.DryRun = o.DryRun || p.Name == "dry_run"
		case p.In == "header" && p.Name == "If-None-Match":
			o.Conditional = true
		}
	}
	if op.RequestBody != nil {
		o.BodyNeeded = op.RequestBody.Required != nil && *op.RequestBody.Required
		o.Media = slices.Collect(op.RequestBody.Content.KeysFromOldest())
		if o.alone, err = readAlone(op.RequestBody); err != nil {
			return nil, err
		}
	}
	for _, answer := range op.Responses.Codes.FromOldest() {
		if answer.Content != nil {
			_, events := answer.Content.Get("text/event-stream")
			o.Stream = o.Stream || events
		}
	}
	o.statuses = slices.Collect(op.Responses.Codes.KeysFromOldest())
	for name, node := range op.Extensions.FromOldest() {
		switch name {
		case "x-side":
			err = node.Decode(&o.Side)
		case "x-body-limit":
			err = node.Decode(&o.BodyLimit)
		case "x-lasting":
			err = node.Decode(&o.Lasting)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return o, nil
}

// times returns how often a query parameter may be given: a list as often as it
// has items, anything else once.
func times(p *v3.Parameter) int {
	s := p.Schema.Schema()
	switch {
	case s == nil || !slices.Contains(s.Type, "array"):
		return 1
	case s.MaxItems == nil:
		return mostParameters
	}
	return int(*s.MaxItems)
}

// readBodies reads the shapes of the JSON bodies that the operation takes.
func (op *Operation) readBodies(read *shapes) (err error) {
	for _, media := range op.Media {
		if !IsJSON(media) {
			continue
		}
		if op.bodies[media], err = read.body(op.Path, op.Method, media); err != nil {
			return err
		}
	}
	return nil
}

// readSecurity insists that every operation says what it needs, if only "any
// token" (bearer: []) or, by an empty list of its own, "none". One that reads
// may say that a ticket will do as well.
func (op *Operation) readSecurity(described *v3.Operation) error {
	if described.Security != nil && len(described.Security) == 0 {
		op.Free = true
		return nil
	}
	if len(described.Security) == 2 && op.Method == http.MethodGet {
		_, op.Ticket = described.Security[1].Requirements.Get("ticket")
	}
	if len(described.Security) != 1 && !op.Ticket {
		return fmt.Errorf("want one security requirement, an empty list of them, or for GET bearer and ticket; found %d", len(described.Security))
	}
	scopes, ok := described.Security[0].Requirements.Get("bearer")
	switch {
	case !ok || len(scopes) > 1:
		return fmt.Errorf("want the scheme bearer with at most one scope")
	case len(scopes) == 1:
		op.Scope = scopes[0]
	}
	return nil
}
