package httpapi_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/pb33f/libopenapi-validator/config"
	"github.com/pb33f/libopenapi-validator/schema_validation"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"
	"github.com/pb33f/libopenapi/orderedmap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// shown is an example of the contract, and where it stands.
type shown struct {
	where  string
	schema *base.Schema
	value  any
}

// gallery gathers the examples of the contract.
type gallery struct {
	t    testing.TB
	all  []shown
	bare []string // bodies that show none
}

// node is a value as the document has it.
type node interface{ Decode(any) error }

func exhibit[N node](g *gallery, where string, schema *base.SchemaProxy, nodes ...N) {
	g.t.Helper()
	for i, node := range nodes {
		var v any
		require.NoError(g.t, node.Decode(&v), where)
		text, err := json.Marshal(v) // as a client reads it
		require.NoError(g.t, err, where)
		require.NoError(g.t, json.Unmarshal(text, &v), where)
		g.all = append(g.all, shown{fmt.Sprintf("%s, example %d", where, i+1), schema.Schema(), v})
	}
}

// inside gathers what a schema shows of itself and of its members; what it
// refers to has its own turn.
func (g *gallery) inside(where string, p *base.SchemaProxy) {
	g.t.Helper()
	if p == nil || p.IsReference() {
		return
	}
	s := p.Schema()
	exhibit(g, where, p, s.Examples...)
	if s.Example != nil {
		exhibit(g, where, p, s.Example)
	}
	for name, member := range s.Properties.FromOldest() {
		g.inside(where+"/"+name, member)
	}
	for _, list := range [][]*base.SchemaProxy{s.OneOf, s.AnyOf, s.AllOf, s.PrefixItems} {
		for _, one := range list {
			g.inside(where, one)
		}
	}
	if s.Items != nil && s.Items.IsA() {
		g.inside(where+"/0", s.Items.A)
	}
	if s.AdditionalProperties != nil && s.AdditionalProperties.IsA() {
		g.inside(where+"/*", s.AdditionalProperties.A)
	}
}

// named gathers examples that stand under their names, as all here do.
func (g *gallery) named(where string, schema *base.SchemaProxy,
	all *orderedmap.Map[string, *base.Example]) (has bool) {
	g.t.Helper()
	g.inside(where, schema)
	for _, e := range all.FromOldest() {
		require.NotNil(g.t, e.Value, where)
		exhibit(g, where, schema, e.Value)
		has = true
	}
	return has
}

func (g *gallery) content(where string, content *orderedmap.Map[string, *v3.MediaType]) {
	g.t.Helper()
	for media, m := range content.FromOldest() {
		if at := where + " " + media; !g.named(at, m.Schema, m.Examples) {
			g.bare = append(g.bare, at)
		}
	}
}

func (g *gallery) headers(where string, headers *orderedmap.Map[string, *v3.Header]) {
	g.t.Helper()
	for name, h := range headers.FromOldest() {
		g.named(where+" header "+name, h.Schema, h.Examples)
	}
}

// everyExample gathers all that the contract shows.
func everyExample(t testing.TB) *gallery {
	t.Helper()
	g := &gallery{t: t}
	for _, op := range theContract().operations {
		for _, p := range op.Parameters {
			g.named(op.OperationId+" "+p.Name, p.Schema, p.Examples)
		}
		if op.RequestBody != nil {
			g.content(op.OperationId, op.RequestBody.Content)
		}
		for status, r := range op.Responses.Codes.FromOldest() {
			g.content(op.OperationId+" "+status, r.Content)
			g.headers(op.OperationId+" "+status, r.Headers)
		}
	}
	for name, s := range theContract().components.Schemas.FromOldest() {
		g.inside(name, s)
	}
	return g
}

// What the contract shows is what the service takes and answers: each example
// keeps the schema that it stands beside, and no body is without one.
func TestEveryExampleKeepsItsSchema(t *testing.T) {
	g := everyExample(t)
	require.Empty(t, g.bare, "bodies without an example")
	v := schema_validation.NewSchemaValidator(config.WithFormatAssertions())
	seen := map[string]bool{} // an answer that many operations share
	for _, e := range g.all {
		text, err := json.Marshal(e.value)
		require.NoError(t, err)
		key := fmt.Sprintf("%p %s", e.schema, text)
		if seen[key] {
			continue
		}
		seen[key] = true
		ok, errs := v.ValidateSchemaObject(e.schema, e.value)
		var why []string
		for _, x := range errs {
			for _, s := range x.SchemaValidationErrors {
				why = append(why, "/"+strings.Join(s.InstancePath, "/")+": "+s.Reason)
			}
			why = append(why, x.Message+" "+x.Reason)
		}
		assert.True(t, ok, "%s: %s", e.where, strings.Join(why, "; "))
	}
	require.Greater(t, len(seen), 200)
}
