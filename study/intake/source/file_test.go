package source_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/source"
)

func TestReadFile(t *testing.T) {
	folder := t.TempDir()
	path := func(name string) string { return filepath.Join(folder, name) }
	for name, text := range map[string]string{"some.csv": "nm,%R\n400,4\n", "empty.csv": ""} {
		require.NoError(t, os.WriteFile(path(name), []byte(text), 0o600))
		data, err := source.ReadFile(path(name))
		require.NoError(t, err)
		assert.Equal(t, text, string(data))
	}
	for name, size := range map[string]int64{"largest.csv": 100 << 20, "larger.csv": 100<<20 + 1} {
		require.NoError(t, os.WriteFile(path(name), nil, 0o600))
		require.NoError(t, os.Truncate(path(name), size))
	}
	data, err := source.ReadFile(path("largest.csv"))
	require.NoError(t, err)
	assert.Len(t, data, 100<<20)
	for name, fault := range map[string]string{
		"larger.csv":  "the file has more than 100 MiB",
		"nowhere.csv": "there is no such file",
		"":            "could not read the file",
	} {
		_, err := source.ReadFile(path(name))
		refusedAs(t, err, fault)
	}
}

// A name that was typed on one system and a file from another, which decomposes letters, look
// alike: the refusal says so.
func TestReadFileNamesWhatLooksAlike(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "e\u0301.csv"), nil, 0o600))
	_, err := source.ReadFile(filepath.Join(folder, "\u00e9.csv"))
	refusedAs(t, err,
		`there is no such file, but one whose name has the same letters in another Unicode form: "e\u0301.csv"`)
	_, err = source.ReadFile(filepath.Join(folder, "e.csv"))
	refusedAs(t, err, "there is no such file")
}
