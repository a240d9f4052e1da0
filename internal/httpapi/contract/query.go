package contract

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"tankside/internal/finding"
)

// ReadQuery finds what is wrong with a query as a whole: its length, the number
// of its parameters, what cannot be read, and a parameter given more often than
// it is taken. Numbers are checked before content.
func ReadQuery(raw string, op *Operation) finding.List {
	said := func(f finding.Finding) finding.List {
		f.In = "query"
		return finding.List{f}
	}
	switch {
	case raw == "":
		return nil
	case len(raw) > longestQuery:
		return said(badQuery.Say("There are more than {most} bytes in the query. Send less at once.", longestQuery))
	case strings.Count(raw, "&") >= mostParameters:
		return said(badQuery.Say("There are more than {most} parameters in the query. Send less at once.",
			mostParameters))
	}
	query, err := url.ParseQuery(raw)
	if err != nil {
		return said(badQuery.Say("The query cannot be read: {because}. Separate parameters by &, and write other "+
			"characters as %XX.", err))
	}
	var found finding.List
	for _, name := range slices.Sorted(keys(query)) {
		most, listed := op.takes[name]
		if n := len(query[name]); listed && n > most {
			f := InvalidValue.Say(`The parameter "{parameter}" is given {count} times, and at most {most} are taken.`, name, n, most)
			f.In, f.Pointer = "query", name
			found = append(found, f)
		}
	}
	return found
}

func keys(query url.Values) func(func(string) bool) {
	return func(yield func(string) bool) {
		for name := range query {
			if !yield(name) {
				return
			}
		}
	}
}

// storableQuery finds parameters that no database column can hold.
func storableQuery(r *http.Request) finding.List {
	var found finding.List
	for name, values := range r.URL.Query() {
		for _, v := range append(values, name) {
			if !Storable(v) && len(found) <= MostBreaches {
				f := badText.Say("A parameter holds a character that cannot be stored (U+0000 or invalid UTF-8).")
				f.In = "query"
				found = append(found, f)
			}
		}
	}
	return found
}

// unlisted finds the query parameters that the operation does not list.
func unlisted(r *http.Request, op *Operation) finding.List {
	var found finding.List
	for _, name := range slices.Sorted(keys(r.URL.Query())) {
		if slices.Contains(op.query, name) || len(found) > MostBreaches {
			continue
		}
		known := "It takes none."
		if len(op.query) > 0 {
			known = "It takes " + strings.Join(op.query, ", ") + "."
		}
		f := unknownParameter.Say(`This operation has no parameter "{parameter}". {known}`,
			Clip(name, LongestPointer), known)
		f.In, f.Pointer = "query", name
		found = append(found, f)
	}
	return found
}
