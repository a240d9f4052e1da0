package contract

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// What requests are checked against is the contract without its answers and
// without its prose. The validator compiles one schema for each body and each
// parameter, and for each it reads the whole document that it was made from: what
// no request can meet would be read a hundred times at the start, and kept.

// requestSide returns the contract as far as a request can meet it: of each answer
// only its status and media types are left, of each schema what a value must be,
// and of the named schemas those that a parameter or a body leads to.
func requestSide(document []byte) (*yaml.Node, error) {
	var root yaml.Node
	if err := yaml.Unmarshal(document, &root); err != nil {
		return nil, err
	}
	if len(root.Content) != 1 {
		return nil, fmt.Errorf("want one document, found %d", len(root.Content))
	}
	doc := root.Content[0]
	for path, item := range pairs(under(doc, "paths")) {
		for method, operation := range pairs(item) {
			if err := shortenAnswers(doc, under(operation, "responses")); err != nil {
				return nil, fmt.Errorf("%s %s: %w", method, path, err)
			}
		}
	}
	components := under(doc, "components")
	keep(components, func(name string) bool {
		return !slices.Contains([]string{"responses", "headers",
			"examples"}, name)
	})
	withoutProse(doc)
	reached := reachedSchemas(doc)
	keep(under(components, "schemas"), func(name string) bool { return reached[name] })
	return doc, nil
}

// shortenAnswers leaves of each answer its status and the media types that it
// comes in.
func shortenAnswers(doc, answers *yaml.Node) error {
	for status, answer := range pairs(answers) {
		if ref := under(answer, "$ref"); ref != nil {
			to := doc
			for step := range strings.SplitSeq(strings.TrimPrefix(ref.Value, "#/"), "/") {
				to = under(to, step)
			}
			if to == nil {
				return fmt.Errorf("%s: %s is not there", status, ref.Value)
			}
			answer.Content = slices.Clone(to.Content)
		}
		keep(answer, func(name string) bool { return name == "content" })
		content := under(answer, "content")
		if content == nil {
			continue
		}
		short := *content
		short.Content = slices.Clone(content.Content)
		for i := 1; i < len(short.Content); i += 2 {
			short.Content[i] = &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
		}
		answer.Content[1] = &short
	}
	return nil
}

// prose are the keywords that only explain.
var prose = []string{"description", "summary", "title", "example", "examples"}

// withoutProse takes what only explains out of a node and of all below it. The
// names of members are no keywords, and a value that the contract quotes stays
// whole.
func withoutProse(n *yaml.Node) {
	if n.Kind == yaml.MappingNode {
		keep(n, func(name string) bool { return !slices.Contains(prose, name) })
	}
	for i, child := range n.Content {
		keyword := ""
		if n.Kind == yaml.MappingNode {
			if i%2 == 0 {
				continue
			}
			keyword = n.Content[i-1].Value
		}
		switch keyword {
		case "default", "const", "enum":
		case "properties", "patternProperties":
			for _, member := range pairs(child) {
				withoutProse(member)
			}
		default:
			withoutProse(child)
		}
	}
}

// reachedSchemas returns the names of the schemas that anything outside of the
// named schemas refers to, and those that these refer to in turn.
func reachedSchemas(doc *yaml.Node) map[string]bool {
	const prefix = "#/components/schemas/"
	schemas := under(under(doc, "components"), "schemas")
	reached := map[string]bool{}
	var visit func(n *yaml.Node)
	visit = func(n *yaml.Node) {
		if n == schemas {
			return
		}
		if name, ok := strings.CutPrefix(n.Value, prefix); ok && n.Kind == yaml.ScalarNode && !reached[name] {
			reached[name] = true
			if schema := under(schemas, name); schema != nil {
				visit(schema)
			}
		}
		for _, child := range n.Content {
			visit(child)
		}
	}
	visit(doc)
	return reached
}

// under returns the value of a mapping's key, nil where there is none.
func under(n *yaml.Node, key string) *yaml.Node {
	for name, value := range pairs(n) {
		if name == key {
			return value
		}
	}
	return nil
}

// pairs returns the keys and values of a mapping; nothing of any other node.
func pairs(n *yaml.Node) func(yield func(string, *yaml.Node) bool) {
	return func(yield func(string, *yaml.Node) bool) {
		if n == nil || n.Kind != yaml.MappingNode {
			return
		}
		for i := 0; i+1 < len(n.Content); i += 2 {
			if !yield(n.Content[i].Value, n.Content[i+1]) {
				return
			}
		}
	}
}

// keep leaves those pairs of a mapping whose key is wanted.
func keep(n *yaml.Node, wanted func(name string) bool) {
	if n == nil {
		return
	}
	var left []*yaml.Node
	for i := 0; i+1 < len(n.Content); i += 2 {
		if wanted(n.Content[i].Value) {
			left = append(left, n.Content[i], n.Content[i+1])
		}
	}
	n.Content = left
}
