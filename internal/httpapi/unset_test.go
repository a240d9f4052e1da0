package httpapi_test

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/oapi-codegen/nullable"
	"github.com/stretchr/testify/require"

	"tankside/api"
)

// filled finds the members of an answer that a mapper forgot. A nullable member
// that was never set is written as an empty text, which the contract takes for
// a text, and an instant as the year 1: no schema would notice.
func filled(operation string, answer any) error {
	if path := forgotten(reflect.ValueOf(answer)); path != "" {
		return fmt.Errorf("%s answers without having set%s", operation, path)
	}
	return nil
}

// forgotten gives the path of the first forgotten member, "" for none.
func forgotten(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return forgotten(v.Elem())
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if path := forgotten(v.Index(i)); path != "" {
				return fmt.Sprintf(".%d%s", i, path)
			}
		}
	case reflect.Map:
		for _, key := range v.MapKeys() {
			if key.Kind() == reflect.Bool && !key.Bool() {
				continue // a null, which has nothing in it
			}
			if path := forgotten(v.MapIndex(key)); path != "" {
				return path
			}
		}
	case reflect.Struct:
		return forgottenIn(v)
	}
	return ""
}

func forgottenIn(v reflect.Value) string {
	if t, ok := v.Interface().(time.Time); ok && t.IsZero() {
		return " (the time)"
	}
	for i := range v.NumField() {
		field := v.Type().Field(i)
		if !field.IsExported() {
			continue
		}
		optional := strings.Contains(field.Tag.Get("json"), "omitempty")
		isNullable := field.Type.Kind() == reflect.Map && field.Type.Key().Kind() == reflect.Bool
		if isNullable && v.Field(i).Len() == 0 && !optional {
			return "." + field.Name
		}
		if path := forgotten(v.Field(i)); path != "" {
			return "." + field.Name + path
		}
	}
	return ""
}

func TestAForgottenMemberIsFound(t *testing.T) {
	site := api.Site{TimeZone: nullable.NewNullNullable[string](), CreatedAt: today, UpdatedAt: today}
	list := func() api.SiteList {
		return api.SiteList{Items: []api.Site{site}, NextCursor: nullable.NewNullNullable[string]()}
	}
	require.NoError(t, filled("listSites", list()))
	site.TimeZone = nil
	require.ErrorContains(t, filled("listSites", list()), "Items.0.TimeZone")
	site.TimeZone.Set("Europe/Lisbon")
	site.UpdatedAt = time.Time{}
	require.ErrorContains(t, filled("listSites", list()), "Items.0.UpdatedAt")
}
