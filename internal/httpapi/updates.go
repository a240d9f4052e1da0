package httpapi

import (
	"encoding/base64"
	"strconv"

	"github.com/oapi-codegen/nullable"

	"tankside/internal/finding"
)

// since reads updated_since: the token of an earlier reading, which is the
// number of a transaction. What is no token breaks the contract.
func since(token *string) (*int64, error) {
	if token == nil {
		return nil, nil
	}
	text, err := base64.RawURLEncoding.DecodeString(*token)
	if err == nil {
		if n, err := strconv.ParseInt(string(text), 10, 64); err == nil && n >= 0 {
			return &n, nil
		}
	}
	f := invalidValue.Of("updated_since is not the updated_token of an earlier reading. Read the list without it.")
	f.In, f.Pointer = "query", "updated_since"
	return nil, breach(finding.List{f})
}

// updatedToken writes where a reading that begins with this page can be
// continued; null on later pages, which the first page's token covers.
func updatedToken(cursor *string, horizon int64) nullable.Nullable[string] {
	if cursor != nil {
		return nullable.NewNullNullable[string]()
	}
	return nullable.NewNullableWithValue(base64.RawURLEncoding.EncodeToString(strconv.AppendInt(nil, horizon, 10)))
}
