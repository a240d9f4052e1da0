package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/gowebpki/jcs"
)

// Hash is a SHA-256 of canonical bytes (FIPS 180-4). In JSON it is 64 hexadecimal digits. The first
// entry of a chain follows the zero Hash.
type Hash [sha256.Size]byte

// String returns the 64 hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// MarshalText returns the 64 hexadecimal digits.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads 64 hexadecimal digits.
func (h *Hash) UnmarshalText(b []byte) error {
	if len(b) != 2*len(h) {
		return fmt.Errorf("a hash has %d hexadecimal digits, not %d", 2*len(h), len(b))
	}
	if _, err := hex.Decode(h[:], b); err != nil {
		return fmt.Errorf("hash: %w", err)
	}
	return nil
}

// Canonical returns the one JSON text of a value that RFC 8785 allows: members sorted by UTF-16
// code units, numbers as ECMAScript writes them, no white space. Equal values have equal bytes,
// whichever program wrote them.
//
// A whole number beyond 2^53, which a double cannot carry, is refused, since the canonical form
// would round it (RFC 8785, appendix D); write it as text.
func Canonical(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("canonical form: %w", err)
	}
	if err := exact(raw); err != nil {
		return nil, fmt.Errorf("canonical form: %w", err)
	}
	out, err := jcs.Transform(raw)
	if err != nil {
		return nil, fmt.Errorf("canonical form: %w", err)
	}
	return out, nil
}

// Digest returns the hash of the canonical form, with every instant in UTC and to the microsecond,
// as PostgreSQL keeps it. A value that could be guessed must not be hashed without a salt: see
// Salt.
func Digest(v any) (Hash, error) {
	c, err := digestible(v)
	if err != nil {
		return Hash{}, err
	}
	return sha256.Sum256(c), nil
}

// digestible returns the canonical bytes that Digest hashes.
func digestible(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("digest: %w", err)
	}
	if err := exact(raw); err != nil {
		return nil, fmt.Errorf("digest: %w", err)
	}
	return plain(raw)
}

// exact refuses whole numbers that lose digits as a double.
func exact(raw []byte) error {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		n, ok := tok.(json.Number)
		if !ok || strings.ContainsAny(n.String(), ".eE") {
			continue
		}
		if f, err := n.Float64(); err != nil || strconv.FormatFloat(f, 'f', -1, 64) != n.String() {
			return fmt.Errorf("%s loses digits as a number; write it as text", n)
		}
	}
}

// plain returns a JSON value as canonical bytes in which every instant is in UTC. A value that
// PostgreSQL wrote, in the zone of its connection, then equals one that Go wrote. PostgreSQL keeps
// microseconds: finer digits are dropped.
func plain(raw []byte) ([]byte, error) {
	if len(raw) == 0 {
		return []byte("null"), nil
	}
	var v any
	if err := json.Unmarshal(raw, &v); err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	raw, err := json.Marshal(inUTC(v))
	if err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	return jcs.Transform(raw)
}

func inUTC(v any) any {
	switch v := v.(type) {
	case string:
		if t, err := time.Parse(time.RFC3339Nano, v); err == nil {
			return instant(t)
		}
	case []any:
		for i := range v {
			v[i] = inUTC(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = inUTC(v[k])
		}
	}
	return v
}

// instant returns a time as the ledger writes it: UTC, to the microsecond.
func instant(t time.Time) string {
	return t.UTC().Truncate(time.Microsecond).Format(time.RFC3339Nano)
}
