package layers

import (
	"regexp"
	"slices"
	"strings"
)

// use is one place in a statement that names a table or a view.
type use struct {
	name    string // "" where the text is composed at run time
	writes  bool
	dynamic bool
}

// hole replaces a part of a statement that is known only at run time.
const hole = "\x00"

// isSQL matches a statement, or a part of one, by its keywords in capitals, which
// lowercase requires.
var isSQL = regexp.MustCompile(
	`\b(SELECT\s|INSERT\s+INTO\s|UPDATE\s+\S+\s|DELETE\s+FROM\s|MERGE\s+INTO\s|TRUNCATE\s|` +
		`LOCK\s+TABLE\s|FROM\s+[a-z\x00]|JOIN\s+[a-z\x00])`)

// looksLower matches statements that isSQL misses.
var looksLower = regexp.MustCompile(
	`(?is)^\s*(select\s.*\sfrom|insert\s+into|delete\s+from|update|truncate)\s+([a-z_]+)\b`)

// lowercase reports whether text is a statement on one of the tables with keywords in
// small letters.
func lowercase(text string, known map[string]string) bool {
	m := looksLower.FindStringSubmatch(text)
	if m == nil || isSQL.MatchString(text) {
		return false
	}
	_, table := known[strings.ToLower(m[2])]
	return table
}

var lexeme = regexp.MustCompile(
	`(?s)--[^\n]*|/\*.*?\*/|\$([a-z]*)\$.*?\$([a-z]*)\$|'(?:[^']|'')*'|` +
		`"[^"]*"|[@:.]?[A-Za-z_\x00][A-Za-z0-9_\x00]*|\S`)

// words returns the words and marks of a statement, in lower case, without comments,
// quoted text, parameters, casts and qualified columns. A schema before a name is
// dropped: public.person is person.
func words(text string) []string {
	var out []string
	for _, t := range lexeme.FindAllString(text, -1) {
		switch {
		case strings.HasPrefix(t, "--"), strings.HasPrefix(t, "/*"), strings.HasPrefix(t, "'"),
			strings.HasPrefix(t, "$"),
			strings.HasPrefix(t, "@"), len(t) > 1 && t[0] == ':':
		case len(t) > 1 && t[0] == '.':
			if len(out) > 0 && out[len(out)-1] == "public" {
				out[len(out)-1] = strings.ToLower(t[1:])
			}
		default:
			out = append(out, strings.ToLower(strings.Trim(t, `"`)))
		}
	}
	return out
}

// named returns the names that WITH defines in the statement.
func named(w []string) []string {
	var out []string
	for i := 1; i+2 < len(w); i++ {
		if w[i] != "as" || !slices.Contains([]string{"(", "materialized", "not"}, w[i+1]) {
			continue
		}
		name := i - 1
		if w[name] == ")" { // with its columns: WITH x (a, b) AS (
			for name > 0 && w[name] != "(" {
				name--
			}
			name--
		}
		if name > 0 && slices.Contains([]string{"with", "recursive", ","}, w[name-1]) {
			out = append(out, w[name])
		}
	}
	return out
}

// reader goes through the words of one statement.
type reader struct {
	w      []string
	own    []string // names defined by WITH
	clause []string // of each open parenthesis: "from" while tables are listed
	opener []string // the word before each open parenthesis
	uses   []use
}

// uses returns every place in a statement that names a table or a view.
func uses(text string) []use {
	w := words(text)
	r := reader{w: w, own: named(w), clause: []string{""}, opener: []string{""}}
	for i := range w {
		r.step(i)
	}
	return r.uses
}

func (r *reader) at(i int) string {
	if i < 0 || i >= len(r.w) {
		return ""
	}
	return r.w[i]
}

func (r *reader) step(i int) {
	depth := len(r.clause) - 1
	before := r.at(i - 1)
	switch r.w[i] {
	case "(", "[":
		r.clause, r.opener = append(r.clause, ""), append(r.opener, before)
	case ")", "]":
		if depth > 0 {
			r.clause, r.opener = r.clause[:depth], r.opener[:depth]
		}
	case "from":
		if before == "distinct" || slices.Contains([]string{"extract", "substring", "trim", "overlay"},
			r.opener[depth]) {
			return
		}
		r.clause[depth] = "from"
		r.table(i+1, before == "delete")
	case "join":
		r.clause[depth] = "from"
		r.table(i+1, false)
	case "using":
		if r.at(i+1) != "(" {
			r.clause[depth] = "from"
			r.table(i+1, false)
		}
	case "into", "truncate":
		r.table(i+1, true)
	case "update":
		if !slices.Contains([]string{"for", "key", "do", "on"}, before) {
			r.table(i+1, true)
		}
	case "table":
		r.table(i+1, before == "lock")
	case ",":
		if r.clause[depth] == "from" {
			r.table(i+1, false)
		}
	case "select", "where", "group", "order", "set", "values", "returning", "limit", "having", "window",
		"union", "for", "when":
		r.clause[depth] = r.w[i]
	}
}

// table notes the table at i, unless the word is something else: a subquery, a
// function, a name defined by WITH.
func (r *reader) table(i int, writes bool) {
	for slices.Contains([]string{"only", "lateral", "table", "if", "not", "exists"}, r.at(i)) {
		i++
	}
	name := r.at(i)
	function := r.at(i+1) == "(" && r.at(i-1) != "into"
	switch {
	case strings.Contains(name, hole), name == "%":
		r.uses = append(r.uses, use{dynamic: true, writes: writes})
	case name == "" || function || slices.Contains(r.own, name):
	case !isWord(name) || strings.HasPrefix(name, "pg_") || name == "information_schema" || name == "select":
	default:
		r.uses = append(r.uses, use{name: name, writes: writes})
	}
}

func isWord(s string) bool { return s[0] == '_' || s[0] >= 'a' && s[0] <= 'z' }
