package httpapi

import (
	"cmp"
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
			f := invalidValue.Of(plain(cmp.Or(e.Reason, e.Message)))
			f.In, f.Pointer = where(e), e.ParameterName
			found = append(found, f)
		}
		for _, v := range e.SchemaValidationErrors {
			f := ruleOf(v).Of(plain(v.Reason))
			f.In, f.Pointer = where(e), cmp.Or(e.ParameterName, pointer(v.InstancePath))
			found = append(found, f)
		}
	}
	slices.SortStableFunc(found, func(a, b finding.Finding) int { return strings.Compare(a.Pointer, b.Pointer) })
	return found
}

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
