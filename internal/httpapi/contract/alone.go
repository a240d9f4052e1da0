package contract

import (
	"bytes"
	"encoding/json"
	"fmt"

	"github.com/pb33f/libopenapi"
	"github.com/pb33f/libopenapi/datamodel/high/base"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"

	"tankside/api"
	"tankside/internal/finding"
)

// alone is a list in the body of an operation whose items are refused one by one
// (x-each-alone): what is around them is held against the contract before the
// handler runs, and each item by the handler.
type alone struct {
	name string // of the member of the body; "": the operation has none
	most int    // items
}

// readAlone finds the list of a body whose items are refused one by one.
func readAlone(body *v3.RequestBody) (alone, error) {
	for _, media := range body.Content.FromOldest() {
		if media.Schema == nil {
			continue
		}
		schema, err := media.Schema.BuildSchema()
		if err != nil {
			return alone{}, err
		}
		if schema.Properties == nil {
			continue
		}
		for name, proxy := range schema.Properties.FromOldest() {
			list, err := proxy.BuildSchema()
			if err != nil {
				return alone{}, err
			}
			if list.Extensions == nil || list.Extensions.GetOrZero("x-each-alone") == nil {
				continue
			}
			if list.MaxItems == nil {
				return alone{}, fmt.Errorf("%s: want maxItems beside x-each-alone", name)
			}
			return alone{name: name, most: int(*list.MaxItems)}, nil
		}
	}
	return alone{}, nil
}

// componentSchema returns a schema of the contract by its name.
func componentSchema(model *libopenapi.DocumentModel[v3.Document], name string) (*base.Schema, error) {
	proxy, ok := model.Model.Components.Schemas.Get(name)
	if !ok {
		return nil, fmt.Errorf("no schema %s", name)
	}
	return proxy.BuildSchema()
}

// around returns a body without what the items of the list say: each is null. Of
// more items than are taken it keeps one more than that, which refuses the body.
// What is no JSON object stays as it is, and is refused as that.
func (a alone) around(body []byte) []byte {
	d := json.NewDecoder(bytes.NewReader(body))
	if open, err := d.Token(); err != nil || open != json.Delim('{') {
		return body
	}
	out := bytes.NewBufferString("{")
	var value json.RawMessage
	for n := 0; d.More(); n++ {
		name, err := d.Token()
		if err != nil || d.Decode(&value) != nil {
			return body
		}
		quoted, err := json.Marshal(name)
		if err != nil {
			return body
		}
		if n > 0 {
			out.WriteByte(',')
		}
		out.Write(quoted)
		out.WriteByte(':')
		if name != a.name || !a.count(out, value) {
			out.Write(value)
		}
		value = value[:0]
	}
	if _, err := d.Token(); err != nil {
		return body
	}
	out.WriteByte('}')
	out.Write(body[d.InputOffset():])
	return out.Bytes()
}

// count writes a null for each item of a list, and reports whether it is one.
func (a alone) count(out *bytes.Buffer, list json.RawMessage) bool {
	d := json.NewDecoder(bytes.NewReader(list))
	if open, err := d.Token(); err != nil || open != json.Delim('[') {
		return false
	}
	out.WriteByte('[')
	var item json.RawMessage
	for n := 0; n <= a.most && d.More() && d.Decode(&item) == nil; n++ {
		if n > 0 {
			out.WriteByte(',')
		}
		out.WriteString("null")
		item = item[:0]
	}
	out.WriteByte(']')
	return true
}

// Entry reads one entry of a batch. The error is the fault that refuses it alone,
// its findings pointing into the entry.
func (c *Contract) Entry(raw json.RawMessage) (api.BatchEntry, error) {
	var e api.BatchEntry
	if breaches := measured(raw, c.entryShape); len(breaches) > 0 {
		return e, Breach(breaches)
	}
	var members any
	if err := json.Unmarshal(raw, &members); err != nil {
		return e, fmt.Errorf("read entry of a batch: %w", err)
	}
	if members == nil { // the validator takes null for nothing to validate
		f := breached("got null, want object")
		f.In = "body"
		return e, Breach(finding.List{f})
	}
	if ok, errs := c.schemas.ValidateSchemaObject(c.batchEntry, members); !ok {
		found := translate(errs)
		for i := range found {
			found[i].In = "body"
		}
		return e, Breach(found)
	}
	if err := json.Unmarshal(raw, &e); err != nil { // a number that no whole number is written like: 1e3
		f := wrongType.Say("A whole number is written with digits alone, like 1000.")
		f.In = "body"
		return e, Breach(finding.List{f})
	}
	return e, nil
}
