package layers

import (
	"fmt"
	"go/ast"
	"regexp"
	"strings"
)

// The greatest lengths, in lines: our choice.
const (
	longestFile     = 400
	longestFunction = 60
	longestRule     = 30 // a function in a rule package
	longestMain     = 40 // a main.go
)

// Lengths returns the breaches of the law of short functions and files. Generated
// files are exempt; in tests only the files are measured.
func Lengths(m *Module) []Breach {
	var out []Breach
	for _, p := range m.Packages {
		_, room, _ := place(p.Path)
		most := longestFunction
		if room == Rules {
			most = longestRule
		}
		for _, f := range p.Files {
			if f.Generated {
				continue
			}
			limit := longestFile
			if f.AST.Name.Name == "main" && strings.HasSuffix(f.Path, "/main.go") {
				limit = longestMain
			}
			if f.Lines > limit {
				out = append(out, Breach{fmt.Sprintf("a file such as this has at most %d lines", limit),
					f.Path,
					fmt.Sprintf("%d lines", f.Lines), "split it by story"})
			}
			if !f.Test {
				out = append(out, m.longFunctions(f, most)...)
			}
		}
	}
	return out
}

func (m *Module) longFunctions(f *File, most int) []Breach {
	var out []Breach
	for _, d := range f.AST.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok {
			continue
		}
		n := m.Fset.Position(fn.End()).Line - m.Fset.Position(fn.Pos()).Line + 1
		if n > most {
			out = append(out, Breach{fmt.Sprintf("a function here has at most %d lines", most), m.where(fn),
				fmt.Sprintf("%s has %d lines", fn.Name.Name, n),
				"take a step of it out under the name of what it does"})
		}
	}
	return out
}

var spaces = regexp.MustCompile(`\s+`)

// Comments returns the breaches of the law of package comments: one file of each
// package says what the package owns, and what it must not know.
func Comments(m *Module) []Breach {
	const law = "a package comment says what the package owns and what it must not know"
	var out []Breach
	for _, p := range m.Packages {
		var docs []string
		name, written := "", false
		for _, f := range p.Files {
			if f.Test {
				continue
			}
			name, written = f.AST.Name.Name, written || !f.Generated
			if f.AST.Doc != nil && !f.Generated {
				docs = append(docs, spaces.ReplaceAllString(f.AST.Doc.Text(), " "))
			}
		}
		breach := func(what, cure string) { out = append(out, Breach{law, p.Path, what, cure}) }
		switch {
		case name == "":
		case len(docs) == 0:
			breach("no package comment", "write one above the package clause of the file "+
				"that the package is named after, or of doc.go")
		case len(docs) > 1:
			breach("several package comments", "keep one")
		case name == "main":
			if !strings.HasPrefix(docs[0], "Command ") {
				breach("the comment does not begin with \"Command\"", "begin it with \"Command "+
					lastOf(p.Path)+"\"")
			}
		case !strings.HasPrefix(docs[0], "Package "):
			breach("the comment does not begin with \"Package\"", "begin it with \"Package "+name+
				"\" and what the package owns")
		case written && !strings.Contains(docs[0], "must not know"):
			breach("the comment does not say what the package must not know",
				"add a sentence \"It must not know ...\"")
		}
	}
	return out
}
