package live

import (
	"crypto/sha256"
	"encoding/base64"
	"strconv"
	"strings"

	"github.com/google/uuid"
)

// position returns the text of a stream's position: a mark of its sessions, in
// ascending order, and of the epoch, then the last number of each session.
func position(epoch string, sessions []uuid.UUID, at []int64) string {
	var b strings.Builder
	b.WriteString(markOf(epoch, sessions))
	for _, n := range at {
		b.WriteByte('.')
		b.WriteString(strconv.FormatInt(n, 10))
	}
	return b.String()
}

// positionOf reads a position of these sessions in this epoch. ok is false for any
// other text.
func positionOf(text, epoch string, sessions []uuid.UUID) (at []int64, ok bool) {
	parts := strings.Split(text, ".")
	if len(parts) != len(sessions)+1 || parts[0] != markOf(epoch, sessions) {
		return nil, false
	}
	for _, p := range parts[1:] {
		n, err := strconv.ParseInt(p, 10, 64)
		if err != nil || n < 0 {
			return nil, false
		}
		at = append(at, n)
	}
	return at, true
}

func markOf(epoch string, sessions []uuid.UUID) string {
	h := sha256.New()
	h.Write([]byte(epoch))
	for _, id := range sessions {
		h.Write(id[:])
	}
	return base64.RawURLEncoding.EncodeToString(h.Sum(nil)[:6])
}
