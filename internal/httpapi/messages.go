package httpapi

import (
	"tankside/api"
	"tankside/internal/httpapi/contract"
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
	for _, t := range contract.Templates(rule) {
		said := message{template: t.Text}
		for _, p := range t.Params {
			said.params = append(said.params, param{p.Name, p.Type})
		}
		out = append(out, said)
	}
	return out
}

func messageView(m message) api.RuleMessage {
	return api.RuleMessage{Template: m.template, Params: each(m.params, func(p param) api.RuleParam {
		return api.RuleParam{Name: p.name, Type: p.of}
	})}
}
