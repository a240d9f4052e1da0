package main

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// publish makes of the bundled contract the document that others read: it has
// nothing of the generator of the server, no two components of one name, and no
// text that a reader of YAML 1.1 takes for something else.
func publish(doc *yaml.Node) {
	dropPrefixed(doc, "x-go")
	nameApart(doc)
	quote(doc)
}

// dropPrefixed removes the pairs of all mappings whose name begins with a prefix.
func dropPrefixed(n *yaml.Node, prefix string) {
	if n.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(n.Content); i += 2 {
			if strings.HasPrefix(n.Content[i].Value, prefix) {
				n.Content = slices.Delete(n.Content, i, i+2)
				i -= 2
			}
		}
	}
	for _, below := range n.Content {
		dropPrefixed(below, prefix)
	}
}

// apart is what is appended to the name of a component that a schema has too:
// some generators of clients make one type for each name.
var apart = map[string]string{"responses": "Answer", "examples": "Example", "parameters": "Parameter",
	"headers": "Header"}

// nameApart renames the components whose name a schema has, and the references to
// them.
func nameApart(doc *yaml.Node) {
	components := under(doc, "components")
	renamed := map[string]string{}
	for kind, suffix := range apart {
		group := under(components, kind)
		for i := 0; group != nil && i+1 < len(group.Content); i += 2 {
			if name := group.Content[i].Value; under(under(components, "schemas"), name) != nil {
				ref := "#/components/" + kind + "/" + name
				renamed[ref] = ref + suffix
				group.Content[i].Value = name + suffix
			}
		}
	}
	rename(doc, renamed)
}

// rename replaces references.
func rename(n *yaml.Node, renamed map[string]string) {
	for name, value := range pairs(n) {
		if to, is := renamed[value.Value]; is && name == "$ref" {
			value.Value = to
		}
	}
	for _, below := range n.Content {
		rename(below, renamed)
	}
}

// truths are the plain words that YAML 1.1 reads as true or false
// (yaml.org/type/bool.html).
var truths = []string{"y", "n", "yes", "no", "on", "off"}

// quote puts the texts into quotes that a reader of YAML 1.1 could take for a
// number, a time or a truth value: those that begin as numbers do, and truths.
func quote(n *yaml.Node) {
	if n.Kind == yaml.ScalarNode && n.Style == 0 && n.ShortTag() == "!!str" &&
		(n.Value != "" && strings.Contains("0123456789+-.", n.Value[:1]) ||
			slices.Contains(truths, strings.ToLower(n.Value))) {
		n.Style = yaml.SingleQuotedStyle
	}
	for _, below := range n.Content {
		quote(below)
	}
}
