package ledger

import "encoding/json"

// Agrees is agrees, of an entry's value as it stands in JSON.
func Agrees(entry any, row json.RawMessage, salt Salt) (bool, error) {
	raw, err := json.Marshal(entry)
	if err != nil {
		return false, err
	}
	e, err := value(raw)
	if err != nil {
		return false, err
	}
	r, err := value(row)
	if err != nil {
		return false, err
	}
	return agrees(e, r, salt)
}
