package source_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/source"
)

// lab makes a folder of empty files.
func lab(t *testing.T, names ...string) string {
	folder := t.TempDir()
	for _, name := range names {
		path := filepath.Join(folder, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, nil, 0o644))
	}
	return folder
}

// find returns the paths found, relative to the folder; a file given by its name
// is marked with =, one with a fault with !.
func find(t *testing.T, folder string, paths ...string) (names []string) {
	for i := range paths {
		paths[i] = filepath.Join(folder, paths[i])
	}
	files := &source.Files{}
	found, err := files.Find(paths)
	require.NoError(t, err)
	require.NoError(t, files.Close())
	for _, f := range found {
		name, err := filepath.Rel(folder, f.Path)
		require.NoError(t, err)
		if name = filepath.ToSlash(name); f.Named {
			name = "=" + name
		}
		if f.Fault != nil {
			name = "!" + name
		}
		names = append(names, name)
	}
	return names
}

func TestFind(t *testing.T) {
	folder := lab(t, "pull1/b.csv", "pull1/a.csv", "pull1/deep/er/c.txt", "pull1/.a.csv", "pull1/.git/d.csv",
		"pull2/a.csv", "a*.csv", "ab.csv")
	assert.Equal(t, []string{"pull1/a.csv", "pull1/b.csv", "pull1/deep/er/c.txt"}, find(t, folder, "pull1"),
		"sorted, without hidden ones")
	assert.Equal(t, []string{"=pull2/a.csv", "=pull1/b.csv"}, find(t, folder, "pull2/a.csv", "pull1/b.csv"),
		"in the order given")
	assert.Equal(t, []string{"=nowhere.csv"}, find(t, folder, "nowhere.csv"),
		"a file that is not there is told of when it is read")
	assert.Equal(t, []string{"pull1/a.csv", "pull2/a.csv"}, find(t, folder, "pull?/a.csv"))
	assert.Equal(t, []string{"pull1/a.csv", "pull1/b.csv", "pull1/deep/er/c.txt"}, find(t, folder, "pull1/*"),
		"folders that a pattern matches are walked")
	assert.Equal(t, []string{"pull1/.a.csv"}, find(t, folder, "pull1/.*.csv"), "hidden ones if they are asked for")
	assert.Equal(t, []string{"=a*.csv"}, find(t, folder, "a*.csv"), "a file of that name is no pattern")
	assert.Equal(t, []string{"=zip/deflated.zip/a[1].csv"}, find(t, "testdata", "zip/deflated.zip/a[1].csv"),
		"nor is a member's")
}

func TestFindRefuses(t *testing.T) {
	folder := lab(t, "empty/.hidden", "a.csv")
	for path, fault := range map[string]string{
		"empty":  "it has only hidden files, which are skipped",
		"*.txt":  "no file matches the pattern",
		"[.csv":  "this is not a pattern of file names",
		"em*":    "it has only hidden files, which are skipped",
		"no/?.c": "no file matches the pattern",
	} {
		_, err := (&source.Files{}).Find([]string{filepath.Join(folder, path)})
		refusedAs(t, err, fault)
	}
}

func refusedAs(t *testing.T, err error, fault string) {
	t.Helper()
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.Contains(t, err.Error(), fault)
	assert.NotEmpty(t, r.Try)
}

// Links in a folder are not followed, wherever they lead; the folder itself may be
// one, since a person named it.
func TestFindFollowsNoLinks(t *testing.T) {
	folder, elsewhere := lab(t, "lab/a.csv"), lab(t, "secret/b.csv")
	for name, to := range map[string]string{
		"lab/in.csv": "a.csv", "lab/out.csv": filepath.Join(elsewhere, "secret/b.csv"),
		"lab/out":   filepath.Join(elsewhere, "secret"),
		"lab/round": ".", "lab/dangling": "nowhere", "by-link": "lab",
	} {
		if err := os.Symlink(to, filepath.Join(folder, name)); err != nil {
			t.Skipf("this system makes no links: %v", err)
		}
	}
	want := []string{"a.csv", "dangling", "in.csv", "out", "out.csv", "round"}
	for _, top := range []string{"lab", "by-link"} {
		var all []string
		for _, name := range want {
			mark := "!"
			if name == "a.csv" {
				mark = ""
			}
			all = append(all, mark+top+"/"+name)
		}
		assert.Equal(t, all, find(t, folder, top))
	}
}
