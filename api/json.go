package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"
)

// JSON returns the contract as JSON: what Document says, in the same order. It
// converts it once. It panics where Document is no YAML, which the tests of this
// package would have found.
var JSON = sync.OnceValue(func() []byte {
	var doc yaml.Node
	if err := yaml.Unmarshal(Document, &doc); err != nil {
		panic(err)
	}
	var out bytes.Buffer
	if err := writeJSON(&out, doc.Content[0]); err != nil {
		panic(err)
	}
	return out.Bytes()
})

// writeJSON writes a node of YAML as JSON, its members in their order. A map of Go
// would lose that.
func writeJSON(out *bytes.Buffer, n *yaml.Node) error {
	switch n.Kind {
	case yaml.MappingNode:
		return writeMembers(out, n.Content)
	case yaml.SequenceNode:
		return writeItems(out, n.Content)
	case yaml.ScalarNode:
		return writeScalar(out, n)
	}
	return fmt.Errorf("line %d: no mapping, list or scalar", n.Line)
}

func writeMembers(out *bytes.Buffer, pairs []*yaml.Node) error {
	out.WriteByte('{')
	for i := 0; i+1 < len(pairs); i += 2 {
		if i > 0 {
			out.WriteByte(',')
		}
		name, err := json.Marshal(pairs[i].Value)
		if err != nil {
			return err
		}
		out.Write(append(name, ':'))
		if err := writeJSON(out, pairs[i+1]); err != nil {
			return err
		}
	}
	out.WriteByte('}')
	return nil
}

func writeItems(out *bytes.Buffer, items []*yaml.Node) error {
	out.WriteByte('[')
	for i, item := range items {
		if i > 0 {
			out.WriteByte(',')
		}
		if err := writeJSON(out, item); err != nil {
			return err
		}
	}
	out.WriteByte(']')
	return nil
}

func writeScalar(out *bytes.Buffer, n *yaml.Node) error {
	var value any = n.Value
	if tag := n.ShortTag(); tag != "!!str" && tag != "!!timestamp" {
		if err := n.Decode(&value); err != nil {
			return err
		}
	}
	text, err := json.Marshal(value)
	out.Write(text)
	return err
}
