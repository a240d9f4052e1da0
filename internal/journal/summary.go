package journal

import (
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// Summaries are what entries say, in one sentence each, by their ids.
type Summaries map[uuid.UUID]string

// QueueSummaries adds to a batch the reading of what entries of one kind say. sql
// selects one entry by w.id, its id as the first of the members of T; say writes
// the sentence. No ids cost nothing.
func QueueSummaries[T any](b *pgx.Batch, into Summaries, ids []uuid.UUID, sql string,
	say func(T) (uuid.UUID, string)) {
	if len(ids) == 0 {
		return
	}
	b.Queue(`SELECT x.* FROM unnest(@ids::uuid[]) w (id) CROSS JOIN LATERAL (`+sql+` LIMIT 1) x`,
		pgx.StrictNamedArgs{"ids": ids}).
		Query(func(rows pgx.Rows) error {
			list, err := pgx.CollectRows(rows, pgx.RowToStructByName[T])
			for _, row := range list {
				id, words := say(row)
				into[id] = words
			}
			return err
		})
}

// ByKind returns the ids of entries by their kinds.
func ByKind(heads []Head) map[Kind][]uuid.UUID {
	out := map[Kind][]uuid.UUID{}
	for _, h := range heads {
		out[h.Kind] = append(out[h.Kind], h.ID)
	}
	return out
}

// Put writes each entry's sentence into its header.
func (s Summaries) Put(heads []Head) {
	for i := range heads {
		heads[i].Summary = s[heads[i].ID]
	}
}

// shortest is how many characters of somebody's own words a sentence takes. Our
// choice: a line or two on a telephone.
const shortest = 160

// Excerpt returns the beginning of somebody's words, on one line, cut between words.
func Excerpt(words string) string {
	words = strings.Join(strings.Fields(words), " ")
	runes := []rune(words)
	if len(runes) <= shortest {
		return words
	}
	cut := string(runes[:shortest])
	if i := strings.LastIndex(cut, " "); i > 0 {
		cut = cut[:i]
	}
	return cut + " …"
}

// Sentence returns words with a full stop, where they end in nothing that stands
// for one.
func Sentence(words string) string {
	if strings.HasSuffix(words, ".") || strings.HasSuffix(words, "!") || strings.HasSuffix(words, "?") ||
		strings.HasSuffix(words, "…") {
		return words
	}
	return words + "."
}
