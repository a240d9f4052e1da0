package httpapi

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	invalid "github.com/pb33f/libopenapi-validator/errors"

	"tankside/internal/finding"
)

// translate gives one finding for each violation that the validator met.
func translate(errs []*invalid.ValidationError) finding.List {
	var found finding.List
	for _, e := range errs {
		if len(e.SchemaValidationErrors) == 0 {
			f := invalidValue.Of(plain(clip(cmp.Or(e.Reason, e.Message), 2*longestMessage)))
			f.In, f.Pointer = where(e), e.ParameterName
			found = append(found, f)
		}
		for _, v := range e.SchemaValidationErrors {
			found = append(found, breaches(e, v)...)
		}
	}
	slices.SortStableFunc(found, func(a, b finding.Finding) int { return strings.Compare(a.Pointer, b.Pointer) })
	return found
}

// breaches tells of each member that is missing or unknown by itself, with a
// pointer to where it would stand or stands, and of everything else as it is.
func breaches(e *invalid.ValidationError, v *invalid.SchemaValidationFailure) finding.List {
	rule := ruleOf(v)
	var keyword string
	switch rule.ID {
	case missingMember.ID:
		keyword = "missing property %s"
	case unknownMember.ID:
		keyword = "additional property %s not allowed"
	default:
		f := rule.Of(plain(clip(v.Reason, 2*longestMessage)))
		f.In, f.Pointer = where(e), cmp.Or(e.ParameterName, pointer(v.InstancePath))
		return finding.List{f}
	}
	var found finding.List
	for _, m := range quoted.FindAllStringSubmatch(v.Reason, -1) {
		name := strings.ReplaceAll(m[1], `\'`, `'`)
		f := rule.Of(plain(fmt.Sprintf(keyword, m[0])))
		f.In, f.Pointer = where(e), cmp.Or(e.ParameterName, pointer(append(slices.Clone(v.InstancePath), name)))
		f.Params = map[string]any{"member": name}
		found = append(found, f)
	}
	return found
}

// quoted is a member's name as the validator writes it.
var quoted = regexp.MustCompile(`'((?:[^'\\]|\\.)*)'`)

func where(e *invalid.ValidationError) string {
	switch {
	case e.ValidationType == "requestBody":
		return "body"
	case e.ValidationType == "parameter" && e.ValidationSubType != "":
		return e.ValidationSubType
	}
	return e.ValidationType
}

func ruleOf(v *invalid.SchemaValidationFailure) finding.Rule {
	switch {
	case strings.HasSuffix(v.KeywordLocation, "/additionalProperties"):
		return unknownMember
	case strings.HasSuffix(v.KeywordLocation, "/required"):
		return missingMember
	}
	return invalidValue
}
