// Package layers holds the laws of the code's layout: which package may import which,
// which package owns which table, what a package comment contains, and the longest
// function and file. Its tests read the whole module and fail on a breach, with the
// law, the place and the cure.
//
// It owns the map of the house (house.go) and reads source as text. It must not know
// what any package does.
package layers

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Breach is one place where a law is broken.
type Breach struct {
	Law   string // in a few words
	Where string // file:line, from the module's root
	What  string // what was found
	Cure  string // what would cure it
}

// String returns the breach in one line.
func (b Breach) String() string {
	return fmt.Sprintf("%s: %s (law: %s). Cure: %s.", b.Where, b.What, b.Law, b.Cure)
}

// File is one parsed Go file.
type File struct {
	Path      string // from the module's root, with slashes
	AST       *ast.File
	Test      bool
	Generated bool
	Lines     int
}

// Package is the files of one directory.
type Package struct {
	Path  string // from the module's root: "internal/gas"
	Files []*File
}

// Module is the parsed source of a module.
type Module struct {
	Name     string // as in go.mod
	Fset     *token.FileSet
	Packages []*Package // by path
}

// Load parses every Go file of the module at root, tests included. It skips the
// directories that the go command skips.
func Load(root string) (*Module, error) {
	mod, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		return nil, err
	}
	_, rest, _ := strings.Cut(string(mod), "module ")
	name, _, _ := strings.Cut(rest, "\n")
	m := &Module{Name: strings.TrimSpace(name), Fset: token.NewFileSet()}
	byDir := map[string]*Package{}
	err = fs.WalkDir(os.DirFS(root), ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return passOver(p, d.Name())
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		f, err := m.parse(root, p)
		if err != nil {
			return err
		}
		dir := path.Dir(p)
		if byDir[dir] == nil {
			byDir[dir] = &Package{Path: dir}
			m.Packages = append(m.Packages, byDir[dir])
		}
		byDir[dir].Files = append(byDir[dir].Files, f)
		return nil
	})
	slices.SortFunc(m.Packages, func(a, b *Package) int { return cmp.Compare(a.Path, b.Path) })
	return m, err
}

func passOver(p, name string) error {
	if p != "." && (name == "testdata" || name == "vendor" || strings.HasPrefix(name, ".") ||
		strings.HasPrefix(name, "_")) {
		return fs.SkipDir
	}
	return nil
}

func (m *Module) parse(root, p string) (*File, error) {
	src, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(p)))
	if err != nil {
		return nil, err
	}
	f, err := parser.ParseFile(m.Fset, p, src, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	return &File{Path: p, AST: f, Test: strings.HasSuffix(p, "_test.go"), Generated: ast.IsGenerated(f),
		Lines: strings.Count(string(src), "\n")}, nil
}

// where returns the file:line of a node.
func (m *Module) where(n ast.Node) string {
	p := m.Fset.Position(n.Pos())
	return fmt.Sprintf("%s:%d", p.Filename, p.Line)
}
