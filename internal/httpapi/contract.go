package httpapi

import (
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"

	"github.com/labstack/echo/v4"
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

// contract is the API's contract as the edge works with it.
type contract struct {
	validator  validator.Validator
	operations []*operation // sorted by ID

	schemas    schema_validation.SchemaValidator
	batchEntry *base.Schema // of one entry of a batch
	entryShape *shape
	passed     []string // keywords that bodies are not measured by

	compiled cache.SchemaCache // what the validator compiled
	size     int               // of the document that each schema was compiled from, in bytes
}

// operation is what the edge knows of one operation before its handler runs.
type operation struct {
	ID     string
	Method string
	Path   string // as the contract writes it: /v1/sites/{id}
	Free   bool   // needs no token at all: security: []
	Scope  string // "" when any valid token will do
	Side   string // x-side: read, decision, fact or upkeep

	item        *v3.PathItem
	query       []string          // the query parameters that it lists
	takes       map[string]int    // how often each of them may be given
	bodies      map[string]*shape // of its JSON bodies, by media type
	media       []string          // the media types of its body; none: it takes no body
	bodyNeeded  bool
	bodyLimit   int64 // x-body-limit, in bytes
	conditional bool  // takes If-None-Match
	lasting     bool  // what it answers never changes (x-lasting)
	dryRun      bool  // takes dry_run
	ticket      bool  // may be opened by a ticket
	alone       alone // the list in its body whose items are refused one by one
	stream      bool  // answers with events for as long as somebody reads
	statuses    []string
}

// defaultBodyLimit is 1 MiB, our choice: a batch of a whole weekend's gas
// checks stays well below it. An operation that takes more says so in
// x-body-limit.
const defaultBodyLimit = 1 << 20

// theContract reads the embedded contract, which takes a moment, once.
var theContract = sync.OnceValues(readContract)

func readContract() (*contract, error) {
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
	c := &contract{validator: v, size: len(text), compiled: compiled,
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
			c.operations = append(c.operations, o)
		}
	}
	c.passed = read.passed
	slices.SortFunc(c.operations, func(a, b *operation) int { return strings.Compare(a.ID, b.ID) })
	return c, checkPermissions(c.operations)
}

func readOperation(method, path string, item *v3.PathItem, op *v3.Operation) (*operation, error) {
	o := &operation{ID: op.OperationId, Method: method, Path: path, item: item, bodyLimit: defaultBodyLimit,
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
			o.dryRun = o.dryRun || p.Name == "dry_run"
		case p.In == "header" && p.Name == "If-None-Match":
			o.conditional = true
		}
	}
	if op.RequestBody != nil {
		o.bodyNeeded = op.RequestBody.Required != nil && *op.RequestBody.Required
		o.media = slices.Collect(op.RequestBody.Content.KeysFromOldest())
		if o.alone, err = readAlone(op.RequestBody); err != nil {
			return nil, err
		}
	}
	for _, answer := range op.Responses.Codes.FromOldest() {
		if answer.Content != nil {
			_, events := answer.Content.Get("text/event-stream")
			o.stream = o.stream || events
		}
	}
	o.statuses = slices.Collect(op.Responses.Codes.KeysFromOldest())
	for name, node := range op.Extensions.FromOldest() {
		switch name {
		case "x-side":
			err = node.Decode(&o.Side)
		case "x-body-limit":
			err = node.Decode(&o.bodyLimit)
		case "x-lasting":
			err = node.Decode(&o.lasting)
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
func (op *operation) readBodies(read *shapes) (err error) {
	for _, media := range op.media {
		if !isJSON(media) {
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
func (op *operation) readSecurity(described *v3.Operation) error {
	if described.Security != nil && len(described.Security) == 0 {
		op.Free = true
		return nil
	}
	if len(described.Security) == 2 && op.Method == http.MethodGet {
		_, op.ticket = described.Security[1].Requirements.Get("ticket")
	}
	if len(described.Security) != 1 && !op.ticket {
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

// openable finds the operation that a ticket for this path opens, nil for none.
func (c *contract) openable(path string) *operation {
	for _, op := range c.operations {
		if op.ticket && matchesPath(op.Path, path) {
			return op
		}
	}
	return nil
}

// matchesPath reports whether a path is one of a template: /v1/sites/{id}.
func matchesPath(template, path string) bool {
	want, have := strings.Split(template, "/"), strings.Split(path, "/")
	return slices.EqualFunc(want, have,
		func(w, h string) bool { return w == h || strings.HasPrefix(w, "{") && h != "" })
}

// jsonBinder decodes a body that has been checked against the contract. Echo's
// own binder does not know application/merge-patch+json.
type jsonBinder struct{}

// Bind decodes the body; io.EOF says that there is none.
func (jsonBinder) Bind(into any, c echo.Context) error {
	body, err := io.ReadAll(c.Request().Body)
	switch {
	case err != nil:
		return err
	case len(body) == 0:
		return io.EOF
	}
	return DecodeBody(body, into)
}
