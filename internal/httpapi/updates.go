package httpapi

import (
	"encoding/base64"
	"strconv"
	"strings"

	"github.com/oapi-codegen/nullable"

	"tankside/internal/finding"
	"tankside/internal/httpapi/contract"
	"tankside/internal/pg"
)

// since reads updated_since: the token of an earlier reading, which is an epoch
// and the number of a transaction. What is no token breaks the contract. One of a
// release that knew no epoch is a number alone.
func since(token *string) (*pg.Position, error) {
	if token == nil {
		return nil, nil
	}
	if text, err := base64.RawURLEncoding.DecodeString(*token); err == nil {
		epoch, number, both := strings.Cut(string(text), "/")
		if !both {
			epoch, number = "", epoch
		}
		if n, err := strconv.ParseInt(number, 10, 64); err == nil && n >= 0 {
			return &pg.Position{Epoch: epoch, Number: n}, nil
		}
	}
	f := contract.InvalidValue.Say("The updated_since given is not the updated_token of an earlier reading. Read the list without it.")
	f.In, f.Pointer = "query", "updated_since"
	return nil, contract.Breach(finding.List{f})
}

// updatedToken writes where a reading that begins with this page can be
// continued; null on later pages, which the first page's token covers.
func updatedToken(cursor *string, horizon pg.Position) nullable.Nullable[string] {
	if cursor != nil {
		return nullable.NewNullNullable[string]()
	}
	text := horizon.Epoch + "/" + strconv.FormatInt(horizon.Number, 10)
	return nullable.NewNullableWithValue(base64.RawURLEncoding.EncodeToString([]byte(text)))
}
