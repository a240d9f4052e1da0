package contract

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	invalid "github.com/pb33f/libopenapi-validator/errors"

	"tankside/internal/finding"
)

// translate returns one finding for each violation that the validator met.
func translate(errs []*invalid.ValidationError) finding.List {
	var found finding.List
	for _, e := range errs {
		if len(e.SchemaValidationErrors) == 0 {
			f := breached(Clip(cmp.Or(e.Reason, e.Message), 2*LongestMessage))
			f.In, f.Pointer = where(e), e.ParameterName
			found = append(found, f)
		}
		for _, v := range e.SchemaValidationErrors {
			found = append(found, breaches(e, v)...)
		}
	}
	slices.SortStableFunc(found,
		func(a, b finding.Finding) int { return strings.Compare(a.Pointer, b.Pointer) })
	return found
}

// breaches returns a finding for each member that is missing or unknown, with a pointer to where it
// would stand or stands, and one finding for every other breach.
func breaches(e *invalid.ValidationError, v *invalid.SchemaValidationFailure) finding.List {
	var keyword string
	switch {
	case strings.HasSuffix(v.KeywordLocation, "/required"):
		keyword = "missing property %s"
	case strings.HasSuffix(v.KeywordLocation, "/additionalProperties"):
		keyword = "additional property %s not allowed"
	default:
		f := breached(Clip(v.Reason, 2*LongestMessage))
		f.In, f.Pointer = where(e), cmp.Or(e.ParameterName, pointer(v.InstancePath))
		return finding.List{f}
	}
	var found finding.List
	for _, m := range quoted.FindAllStringSubmatch(v.Reason, -1) {
		name := strings.ReplaceAll(m[1], `\'`, `'`)
		f := breached(fmt.Sprintf(keyword, m[0]))
		f.In, f.Pointer = where(e), cmp.Or(e.ParameterName, pointer(append(slices.Clone(v.InstancePath), name)))
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
