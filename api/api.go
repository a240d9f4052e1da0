// Package api is the contract: the files in contract, written by hand, the one
// document that they make together, and what is generated from that, the strict
// server and the types of bodies.
//
// It owns no behaviour, and must not know any: internal/httpapi implements the
// server; beside it only the edge that writes the contract's own JSON (form,
// planform, commands) may import this one.
package api

import _ "embed"

//go:generate go run ./bundle

// Document is the contract in one document, as it is published and as requests are
// checked against it.
//
//go:embed openapi.gen.yaml
var Document []byte

// Breaks is what the contract said before and says no more, with what to use
// instead, as YAML.
//
//go:embed breaks.yaml
var Breaks []byte

// Quantity is a value with its unit, as it was read. The contract's schemas for
// pressure, depth and so on say which units each takes.
type Quantity struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}
