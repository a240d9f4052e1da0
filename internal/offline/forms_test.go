package offline_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"tankside/internal/centre"
	"tankside/internal/courses"
	"tankside/internal/desk"
	"tankside/internal/journal"
	"tankside/internal/people"
	"tankside/internal/pg/pgtest"
)

// kept is an entry as form 1 stores it, with its digest. Once there is a release, testdata
// never changes.
type kept struct {
	Kind   journal.Kind    `json:"kind"`
	Of     uuid.UUID       `json:"of"`
	Item   json.RawMessage `json:"item"`
	Digest string          `json:"digest"`
}

func keptEntries(t *testing.T) (out []kept) {
	t.Helper()
	f, err := os.Open("testdata/entries_form1.jsonl")
	require.NoError(t, err)
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		var k kept
		require.NoError(t, json.Unmarshal(lines.Bytes(), &k))
		out = append(out, k)
	}
	return out
}

// kinds returns the kinds of entry that a batch may bring.
func kinds(t *testing.T) journal.Kinds {
	t.Helper()
	db := pgtest.New(t).DB
	return desk.New(db, centre.New(db), people.New(db), courses.New(db)).Kinds().Sent()
}

// What was stored stays readable, is stored the same again, and is the same entry
// when its device sends it again, whatever the program calls its fields since.
func TestWhatWasStoredIsTheSameEntryStill(t *testing.T) {
	t.Parallel()
	all, seen := kinds(t), map[journal.Kind]bool{}
	for _, k := range keptEntries(t) {
		item, err := all.Read(k.Item, 1)
		require.NoError(t, err, k.Kind)
		again, err := all.Store(item)
		require.NoError(t, err)
		require.Equal(t, string(k.Item), string(again), k.Kind)
		require.Equal(t, k.Digest, fmt.Sprintf("%x", item.Digest(k.Of)), k.Kind)
		seen[k.Kind] = true
	}
	for _, kind := range all {
		require.True(t, seen[kind.Kind], "no stored entry of the kind %s is kept to compare with", kind.Kind)
	}
}

// A form that a later release wrote, and a member that this one does not know, are
// not passed over.
func TestWhatIsNotUnderstoodIsNotRead(t *testing.T) {
	t.Parallel()
	k, all := keptEntries(t)[0], kinds(t)
	_, err := all.Read(k.Item, 2)
	require.ErrorContains(t, err, "form 2")
	_, err = all.Read([]byte(`{"Call":{"ID":"eae4613f-9a87-5173-83ac-74a7ead5cb67","Colour":"red"}}`), 1)
	require.ErrorContains(t, err, "Colour")
	_, err = all.Read([]byte(`{"Dance":{}}`), 1)
	require.ErrorContains(t, err, "no kind")
}

// The name of every stored member is written down beside it, so that a field can be
// renamed.
func TestEveryStoredMemberIsNamedByATag(t *testing.T) {
	t.Parallel()
	named := 0
	var look func(of reflect.Type)
	seen := map[reflect.Type]bool{}
	look = func(of reflect.Type) {
		for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice {
			of = of.Elem()
		}
		if of.Kind() != reflect.Struct || of.PkgPath() == "time" || seen[of] {
			return
		}
		seen[of] = true
		for i := range of.NumField() {
			f := of.Field(i)
			if f.Tag.Get("json") == "-" {
				continue // not stored
			}
			require.Regexp(t, `^[A-Za-z_]+(,|$)`, f.Tag.Get("json"), "%s.%s", of, f.Name)
			named++
			look(f.Type)
		}
	}
	all := kinds(t)
	for _, k := range keptEntries(t) {
		item, err := all.Read(k.Item, 1)
		require.NoError(t, err)
		look(reflect.TypeOf(item))
	}
	require.Greater(t, named, 80, "the test looked at nothing")
}
