package store_test

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// kept holds the files of a dump.
type kept map[string][]byte

type keptFile struct {
	bytes.Buffer
	done func([]byte)
}

func (f *keptFile) Close() error { f.done(f.Bytes()); return nil }

func (k kept) create(name string) (io.WriteCloser, error) {
	return &keptFile{done: func(data []byte) { k[name] = bytes.Clone(data) }}, nil
}

// dump is what [store.Rebuild] reads.
func (k kept) dump() store.Dump {
	return store.Dump{
		Open: func(name string) (io.ReadCloser, error) {
			data, there := k[name]
			if !there {
				return nil, &study.Refusal{File: "out/" + name, Fault: "it is missing", Try: "copy it again"}
			}
			return io.NopCloser(bytes.NewReader(data)), nil
		},
		Path: func(name string) string { return "out/" + name },
	}
}

func dumped(t *testing.T, s *store.Store) kept {
	t.Helper()
	k := kept{}
	require.NoError(t, s.View(t.Context(), func(v *store.View) error { return v.WriteDump(k.create) }))
	return k
}

// What comes out of a study makes an equal one, of every kept file of an older version too: the
// same rows, checksums, lines of the log and hashes, and the same dump again.
func TestADumpMakesAnEqualStudy(t *testing.T) {
	studies := map[string]string{"of this version": filled(t)}
	old, err := filepath.Glob("testdata/study-*.wane.gz")
	require.NoError(t, err)
	require.NotEmpty(t, old)
	for _, name := range old {
		studies[name] = unpacked(t, name)
	}
	for name, path := range studies {
		t.Run(name, func(t *testing.T) {
			s, err := store.Open(t.Context(), path)
			require.NoError(t, err)
			defer s.Close()
			files := dumped(t, s)
			again, err := store.Rebuild(t.Context(), filepath.Join(t.TempDir(), "again.wane"), files.dump())
			require.NoError(t, err)
			defer again.Close()
			verified(t, again)
			assert.Equal(t, dump(t, s), dump(t, again))
			assert.Equal(t, files, dumped(t, again))
			assert.Equal(t, s.Settings(), again.Settings())
		})
	}
}

// A dump that was altered in any byte of any of its rows, or lost a line, is refused with the file
// and, where one row is concerned, its line; and no study is made.
func TestAnAlteredDumpIsRefused(t *testing.T) {
	s, err := store.Open(t.Context(), filled(t))
	require.NoError(t, err)
	defer s.Close()
	whole := dumped(t, s)
	refuse := func(t *testing.T, altered kept, place string) {
		t.Helper()
		folder := t.TempDir()
		_, err := store.Rebuild(t.Context(), filepath.Join(folder, "again.wane"), altered.dump())
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal)
		assert.Contains(t, err.Error(), place)
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		assert.Empty(t, left)
	}
	with := func(name string, data []byte) kept {
		altered := kept{}
		for n, d := range whole {
			altered[n] = d
		}
		altered[name] = data
		return altered
	}
	t.Run("a byte anywhere in a line", func(t *testing.T) {
		const name = "coupon.jsonl"
		lines := bytes.SplitAfter(whole[name], []byte("\n"))
		before := len(lines[0])
		for at := 0; at < len(lines[1]); at += 29 {
			data := bytes.Clone(whole[name])
			data[before+at] ^= 1
			refuse(t, with(name, data), "out/coupon.jsonl:2: this row is not as it was exported: ")
		}
	})
	for _, c := range []struct{ name, file, from, to, place string }{
		{"a value", "pull.jsonl", "90.5", "91.5", "out/pull.jsonl:2: this row is not as it was exported: its " +
			"checksum is wrong"},
		{"a number of another kind", "pull.jsonl", "90.5", "905e-1", "out/pull.jsonl:2: "},
		{"an unknown column", "pull.jsonl", `"dose"`, `"rate"`, "out/pull.jsonl:1: this row is not as it was " +
			`exported: the table has no column "rate"`},
		{"a hash of the log", "log.jsonl", `"verb":"enrol"`, `"verb":"enrox"`, "out/log.jsonl:2: "},
		{"no JSON", "study.jsonl", "{", "[", "out/study.jsonl:1: "},
		{"bytes that are no base64", "original.jsonl", `"base64":"`, `"base64":"*`, "out/original.jsonl:1: "},
		{"another form", "format.json", "rows of a wane study, 1", "rows of a wane study, 2", "made by a newer wane"},
		{"no form", "format.json", "rows of", "columns of", "out/format.json: this does not say"},
		{"another end of the log", "format.json", `"log_lines": `, `"log_lines": 1`, "out/log.jsonl:"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := string(whole[c.file])
			require.Contains(t, text, c.from)
			refuse(t, with(c.file, []byte(strings.Replace(text, c.from, c.to, 1))), c.place)
		})
	}
	t.Run("a line less", func(t *testing.T) {
		for _, name := range []string{"study", "pull", "reading", "fit", "log"} {
			name += ".jsonl"
			lines := bytes.SplitAfter(whole[name], []byte("\n"))
			last := bytes.Join(lines[:len(lines)-2], nil)
			refuse(t, with(name, last), "out/"+name+":")
		}
		cut := bytes.TrimSuffix(whole["pull.jsonl"], []byte("\n"))
		refuse(t, with("pull.jsonl", cut), "out/pull.jsonl:4: this row is not as it was exported: the line has no end")
	})
	t.Run("a file less", func(t *testing.T) {
		altered := with("grid.jsonl", nil)
		delete(altered, "grid.jsonl")
		refuse(t, altered, "out/grid.jsonl: it is missing")
	})
}
