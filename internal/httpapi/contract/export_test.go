package contract

// RequestSide returns the contract as far as a request can meet it.
func RequestSide(document []byte) (map[string]any, error) {
	n, err := requestSide(document)
	if err != nil {
		return nil, err
	}
	var out map[string]any
	return out, n.Decode(&out)
}
