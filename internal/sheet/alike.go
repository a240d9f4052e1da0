package sheet

import (
	"strings"

	"tankside/internal/finding"
)

// mergeAlike merges findings about several people into one, so that a group's sheet stays
// a page: the first as it is, then the names of the others, each with what differs.
// who returns the name of the person whom a finding is about, "" for nobody. Nothing
// is lost: findings are merged only if their messages differ in nothing but the name,
// the found value and the limit.
func mergeAlike(l finding.List, who func(finding.Finding) string) finding.List {
	var out finding.List
	at, others := map[string]int{}, map[int][]string{}
	for _, f := range l {
		name := who(f)
		key := pattern(f, name)
		i, there := at[key]
		if name == "" || !there {
			at[key] = len(out)
			out = append(out, f)
			continue
		}
		others[i] = append(others[i], name+differenceText(f, out[i]))
	}
	for i, names := range others {
		out[i].Message += " Likewise " + strings.Join(names, ", ") + "."
	}
	return out
}

// pattern returns a finding without the name, the found value and the limit.
func pattern(f finding.Finding, name string) string {
	message := f.Message
	for _, own := range []string{name, amount(f.Found), amount(f.Limit)} {
		if own != "" {
			message = strings.ReplaceAll(message, own, "\x00")
		}
	}
	for _, c := range f.Cures {
		message += "\x00" + c.Message
	}
	return strings.Join([]string{f.Rule, string(f.Severity), message}, "\x00")
}

// differenceText returns the found value and the limit of a finding, where they differ
// from those of the first.
func differenceText(f, first finding.Finding) string {
	var own []string
	if amount(f.Found) != amount(first.Found) {
		own = append(own, amount(f.Found))
	}
	if amount(f.Limit) != amount(first.Limit) {
		own = append(own, "limit "+amount(f.Limit))
	}
	if len(own) == 0 {
		return ""
	}
	return " (" + strings.Join(own, ", ") + ")"
}

func amount(a *finding.Amount) string {
	if a == nil {
		return ""
	}
	return a.Text
}
