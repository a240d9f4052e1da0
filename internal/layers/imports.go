package layers

import (
	"fmt"
	"go/ast"
	"slices"
	"strconv"
	"strings"
)

// impure are the packages of the standard library that a rule must not import:
// context, clock, input and output, chance, JSON.
var impure = []string{"context", "database", "encoding/json", "log", "math/rand", "net", "os", "os/exec",
	"syscall", "testing", "unsafe"}

// clock are the names in package time that read the clock or wait.
var clock = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}

// Imports returns the breaches of the import law.
func Imports(m *Module) []Breach {
	var out []Breach
	for _, p := range m.Packages {
		entered, room, ok := place(p.Path)
		if !ok {
			out = append(out, Breach{"every package stands in a room", p.Path, "package " + p.Path +
				" stands in none",
				"enter it in rooms in internal/layers/house.go, or move it into the package it belongs to"})
			continue
		}
		for _, f := range p.Files {
			for _, s := range f.AST.Imports {
				if b, bad := m.judge(p, f, entered, room, s); bad {
					out = append(out, b)
				}
			}
			if room == Rules && !f.Test {
				out = append(out, m.clockless(f)...)
			}
		}
	}
	return append(out, m.unused()...)
}

// unused returns a breach for each import that edgeRooms lists and the room does not make.
func (m *Module) unused() []Breach {
	made := map[string]bool{}
	for _, p := range m.Packages {
		from, _, _ := place(p.Path)
		for _, f := range p.Files {
			for _, s := range f.AST.Imports {
				name, _ := strconv.Unquote(s.Path.Value)
				if to, _, ok := place(strings.TrimPrefix(name, m.Name+"/")); ok && !f.Test {
					made[from+" "+to] = true
				}
			}
		}
	}
	var out []Breach
	for _, p := range m.Packages {
		for _, to := range edgeRooms[p.Path] {
			if !made[p.Path+" "+to] {
				out = append(out, Breach{"edgeRooms lists what a room imports, and no more", p.Path,
					p.Path + " does not import " + to, "take it out of edgeRooms in internal/layers/house.go"})
			}
		}
	}
	return out
}

func (m *Module) judge(p *Package, f *File, entered string, room Layer, s *ast.ImportSpec) (Breach, bool) {
	name, err := strconv.Unquote(s.Path.Value)
	if err != nil {
		return Breach{}, false
	}
	breach := func(law, cure string) (Breach, bool) {
		return Breach{law, m.where(s), fmt.Sprintf("%s (%s) imports %s", p.Path, room, name), cure}, true
	}
	inside, ours := strings.CutPrefix(name, m.Name+"/")
	switch {
	case f.Test:
		return m.judgeTest(room, inside, ours, breach)
	case ours && strings.HasSuffix(inside, "test") && !strings.HasSuffix(p.Path, "test"):
		return breach("packages for tests are for tests", "import it in a _test.go file only")
	case ours:
		return judgeOurs(entered, room, inside, breach)
	case room == Rules && strings.Contains(name, "."):
		return breach("a rule imports the standard library, units and finding",
			"do without, or move the code to the feature that asks the rule")
	case room == Words && strings.Contains(name, ".") && name != "github.com/google/uuid":
		return breach("words import the standard library and one another",
			"do without, or move the code to where it is needed")
	case room == Rules && name == "encoding/json" && localName(f, "embed") != "":
		return Breach{}, false // reads the data that it carries
	case room == Rules && within(name, impure):
		return breach("a rule is pure: no context, clock, input, output, chance or JSON",
			"let the service fetch it and hand the rule a value")
	case room != Edge && (within(name, []string{"net/http"}) ||
		strings.HasPrefix(name, "github.com/labstack/echo")):
		return breach("only the edge knows HTTP",
			"give a fault or a value, and let internal/httpapi translate")
	}
	return Breach{}, false
}

func judgeOurs(entered string, room Layer, inside string,
	breach func(law, cure string) (Breach, bool)) (Breach, bool) {
	to, toRoom, known := place(inside)
	switch {
	case !known || to == entered:
		return Breach{}, false // an unknown package is reported at its own place
	case room == Rules && !slices.Contains(wordsForRules, to):
		return breach("a rule imports the standard library, units and finding",
			"take a value instead, or move what both need into units or finding")
	case entered == dayview && toRoom == Platform && to != database:
		return breach("the read model of a session imports pg, words and rules",
			"read the rows themselves, or hand the caller what it needs")
	case room == Features && toRoom == Features && composes(entered, to):
		return Breach{}, false
	case room == Features && toRoom == Features:
		return breach("features never import each other",
			"read the other's rows through a view that it keeps, or move the use case to internal/desk")
	case edgeRooms[entered] != nil && toRoom != Words && !slices.Contains(edgeRooms[entered], to):
		return breach("a room of the HTTP edge imports what edgeRooms lists for it",
			"let the handler fetch it and hand over a value, or list it in internal/layers/house.go")
	case !slices.Contains(may[room], toRoom):
		return breach(fmt.Sprintf("%s may import %v and no others of ours", room, may[room]),
			"turn the dependency round, or move the code to the room that needs it")
	}
	return Breach{}, false
}

// composes reports whether a package composes features and may import another of them:
// any that composes none, and composers that are listed before it.
func composes(pkg, to string) bool {
	at, other := slices.Index(composers, pkg), slices.Index(composers, to)
	return at >= 0 && other < at
}

// judgeTest lets tests import what they need to prepare their data. The tests of words
// and rules import nothing above them, as their code, and may read published figures.
func (m *Module) judgeTest(room Layer, inside string, ours bool,
	breach func(law, cure string) (Breach, bool)) (Breach, bool) {
	if !ours || (room != Words && room != Rules) {
		return Breach{}, false
	}
	if _, to, ok := place(inside); ok && to != Words && to != Rules && to != Published {
		return breach("words and rules are tested without anything above them",
			"move the test to the feature, or hand the rule a value")
	}
	return Breach{}, false
}

// clockless returns where a rule reads the clock.
func (m *Module) clockless(f *File) []Breach {
	var out []Breach
	ast.Inspect(f.AST, func(n ast.Node) bool {
		s, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := s.X.(*ast.Ident); ok && x.Name == localName(f, "time") &&
			slices.Contains(clock, s.Sel.Name) {
			out = append(out, Breach{"a rule is pure: no context, clock, input, output, chance or JSON",
				m.where(n),
				"time." + s.Sel.Name + " in a rule", "take the time as an argument"})
		}
		return true
	})
	return out
}

// localName returns the name by which a file calls an imported package, "" if it does
// not import it.
func localName(f *File, pkg string) string {
	for _, s := range f.AST.Imports {
		if s.Path.Value != strconv.Quote(pkg) {
			continue
		}
		if s.Name != nil {
			return s.Name.Name
		}
		return lastOf(pkg)
	}
	return ""
}

// within reports whether a package is one of those in of or beneath one of them.
func within(name string, of []string) bool {
	return slices.ContainsFunc(of, func(o string) bool { return name == o || strings.HasPrefix(name, o+"/") })
}
