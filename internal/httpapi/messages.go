package httpapi

import (
	"regexp"

	"tankside/api"
)

//go:generate go run ./catalogue

// message is a template of a rule's messages, with its parameters in the order in which it names them.
type message struct {
	template string
	params   []param
}

type param struct{ name, of string }

// messagesOf returns the messages of a rule: those that the source makes findings of, and those that tell in
// plain words what the validator found.
func messagesOf(rule string) []message {
	out := append([]message{}, messages[rule]...)
	for _, s := range sayings {
		if s.rule.ID == rule {
			out = append(out, s.message())
		}
	}
	return out
}

var placeholder = regexp.MustCompile(`\{([a-z_]+)\}`)

func (s saying) message() message {
	m := message{template: s.template}
	for i, found := range placeholder.FindAllStringSubmatch(s.template, -1) {
		p := param{found[1], "text"}
		if i < len(s.as) {
			switch s.as[i]("").(type) {
			case figure:
				p.of = "number"
			case choice:
				p.of = "list"
			}
		}
		m.params = append(m.params, p)
	}
	return m
}

func messageView(m message) api.RuleMessage {
	return api.RuleMessage{Template: m.template, Params: each(m.params, func(p param) api.RuleParam {
		return api.RuleParam{Name: p.name, Type: p.of}
	})}
}
