package source_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake/source"
)

// zipSums returns, for each zip file of testdata, the SHA-256 of its members.
// Source: testdata/zip/sums.txt, by Python's hashlib, beside zip files made with
// Python's zipfile by make.py.
func zipSums(t *testing.T) map[string]map[string]string {
	text, err := os.ReadFile("testdata/zip/sums.txt")
	require.NoError(t, err)
	sums := map[string]map[string]string{}
	for line := range strings.Lines(string(text)) {
		sum, path, ok := strings.Cut(strings.TrimSpace(line), "  ")
		require.True(t, ok)
		zipped, member, ok := strings.Cut(path, "/")
		require.True(t, ok)
		if sums[zipped] == nil {
			sums[zipped] = map[string]string{}
		}
		sums[zipped][member] = sum
	}
	return sums
}

// Members that another program packed are found in the order of their names, and
// are byte for byte what it packed.
func TestZipMembers(t *testing.T) {
	all := zipSums(t)
	require.Len(t, all, 10)
	files := &source.Files{}
	for zipped, sums := range all {
		top := filepath.Join("testdata", "zip", zipped)
		found, err := files.Find([]string{top})
		require.NoError(t, err, zipped)
		require.Len(t, found, len(sums), zipped)
		assert.True(t, slices.IsSortedFunc(found, func(a, b source.Found) int { return strings.Compare(a.Path, b.Path) }),
			zipped)
		for _, f := range found {
			require.NoError(t, f.Fault)
			assert.False(t, f.Named)
			member, err := filepath.Rel(top, f.Path)
			require.NoError(t, err)
			data, err := files.Read(f.Path)
			require.NoError(t, err)
			sum := sha256.Sum256(data)
			assert.Equal(t, sums[filepath.ToSlash(member)], hex.EncodeToString(sum[:]), f.Path)
			assert.EqualValues(t, len(data), files.Size(f.Path))
		}
	}
	require.NoError(t, files.Close())
}

// Zip files that are refused as a whole.
func TestZipRefused(t *testing.T) {
	for name, fault := range map[string]string{
		"parent.zip":          `the member "inner/../../a.csv" has a name that leads out of the zip file`,
		"parent-folder.zip":   `the member ".." has a name that leads out of the zip file`,
		"absolute.zip":        `the member "/a.csv" has an absolute name`,
		"drive.zip":           `the member "C:a.csv" has an absolute name`,
		"backslash.zip":       "has a backslash in its name",
		"control.zip":         `the member "a\nb.csv" has a name that no file can have`,
		"twice.zip":           `two members have the name "a.csv"`,
		"file-and-folder.zip": `a file and a folder have the name "a"`,
		"case.zip": `the members "Roof/a.csv" and "roof/A.CSV" have one name where case or the form of ` +
			`letters does not count`,
		"case-folder.zip": `a file and a folder have the name "Roof"`,
		"sharp-s.zip":     "have one name where case or the form of letters does not count",
		"composed.zip":    "have one name where case or the form of letters does not count",
		"no.zip":          "this is no zip file, or one that is cut off",
		"nothing.zip":     "this is no zip file, or one that is cut off",
		"cut.zip":         "this is no zip file, or one that is cut off",
	} {
		refuseZip(t, filepath.Join("testdata", "zip", name), fault)
	}
}

// refuseZip asserts that a zip file is found with a fault, and that a member of it
// is refused for the same.
func refuseZip(t *testing.T, path, fault string) {
	t.Helper()
	files := &source.Files{}
	found, err := files.Find([]string{path})
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.True(t, found[0].Named)
	refusedAs(t, found[0].Fault, fault)
	_, err = files.Read(filepath.Join(path, "a.csv"))
	refusedAs(t, err, fault)
	assert.Zero(t, files.Size(filepath.Join(path, "a.csv")))
	require.NoError(t, files.Close())
}

// A zip file in a zip file is found, is not opened, and says so whoever asks for it
// or for what is in it.
func TestZipInZip(t *testing.T) {
	files := &source.Files{}
	top := filepath.Join("testdata", "zip", "inner.zip")
	inner := filepath.Join(top, "roof", "Pull 1.ZIP")
	found, err := files.Find([]string{top})
	require.NoError(t, err)
	require.Len(t, found, 2)
	assert.Equal(t, source.Found{Path: filepath.Join(top, "a.csv")}, found[0])
	assert.Equal(t, inner, found[1].Path)
	assert.False(t, found[1].Named)
	const fault = "a zip file in a zip file is not opened"
	refusedAs(t, found[1].Fault, fault)
	for _, path := range []string{inner, filepath.Join(inner, "a.csv")} {
		_, err = files.Read(path)
		refusedAs(t, err, fault)
		assert.Contains(t, err.Error(), "Pull 1.ZIP:")
		assert.Zero(t, files.Size(path))
	}
	data, err := files.Read(found[0].Path)
	require.NoError(t, err)
	assert.NotEmpty(t, data)
	require.NoError(t, files.Close())
}

// Members that are refused when they are read.
func TestZipMemberRefused(t *testing.T) {
	for name, fault := range map[string]string{
		"encrypted.zip/inner/b.csv":   "the file is encrypted",
		"bzip2.zip/a.csv":             "the file is packed by method 12, which is not read",
		"ratio.zip/a.csv":             "the file unpacks to more than 200 times its packed size",
		"huge.zip/inner/b.csv":        "the file has more than 100 MiB unpacked",
		"packed-huge.zip/inner/b.csv": "the zip file is shorter than this file in it",
		"longer.zip/inner/b.csv":      "the file does not unpack to what the zip file says",
		"shorter.zip/inner/b.csv":     "the file does not unpack to what the zip file says",
		"checksum.zip/inner/b.csv":    "the file does not unpack to what the zip file says",
		"deflated.zip/inner/no.csv":   "there is no such file in the zip file",
		"deflated.zip/inner":          "there is no such file in the zip file",
		"link.zip/link.csv":           "there is no such file in the zip file",
		"nowhere.zip/a.csv":           "there is no such file",
	} {
		path := filepath.Join("testdata", "zip", filepath.FromSlash(name))
		files := &source.Files{}
		_, err := files.Read(path)
		refusedAs(t, err, fault)
		assert.Contains(t, err.Error(), path, "it says which")
		require.NoError(t, files.Close())
	}
}

// zipOf packs empty members, as many as names yields.
func zipOf(t *testing.T, n int, name func(i int) string) string {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := range n {
		_, err := w.CreateHeader(&zip.FileHeader{Name: name(i)})
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	path := filepath.Join(t.TempDir(), "many.zip")
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	return path
}

func TestZipWithManyMembers(t *testing.T) {
	short := func(i int) string { return fmt.Sprintf("%05d.csv", i) }
	refuseZip(t, zipOf(t, 20_001, short), "it has 20,001 members, and may have 20000")
	found, err := (&source.Files{}).Find([]string{zipOf(t, 20_000, short)})
	require.NoError(t, err)
	assert.Len(t, found, 20_000)
	refuseZip(t, zipOf(t, 1000, func(i int) string { return strings.Repeat("a/", 2500) + short(i) }),
		"the list of members has more than 4 MiB")
}

// Many zip files at once, from a folder, by more readers than are kept open: a zip
// file that is read for long stays open while others come and go.
func TestFilesReadsAtOnce(t *testing.T) {
	folder := t.TempDir()
	data, err := os.ReadFile("testdata/zip/deflated.zip")
	require.NoError(t, err)
	for i := range 30 {
		require.NoError(t, os.WriteFile(filepath.Join(folder, fmt.Sprintf("%02d.ZIP", i)), data, 0o644))
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	m, err := w.Create("long.csv")
	require.NoError(t, err)
	long := bytes.Repeat([]byte("a line that is repeated at a different place, again and again\n"), 400_000)
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range len(long) / 40 {
		long[40*i] = byte('a' + rng.IntN(26)) // or it would be packed too well
	}
	_, err = m.Write(long)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	longPath := filepath.Join(t.TempDir(), "long.zip")
	require.NoError(t, os.WriteFile(longPath, b.Bytes(), 0o644))

	files := &source.Files{}
	found, err := files.Find([]string{folder})
	require.NoError(t, err)
	require.Len(t, found, 60)
	want := zipSums(t)["deflated.zip"]
	var all sync.WaitGroup
	all.Go(func() {
		data, err := files.Read(filepath.Join(longPath, "long.csv"))
		assert.NoError(t, err)
		assert.True(t, bytes.Equal(long, data))
	})
	for worker := range 8 {
		all.Go(func() {
			for i := range found {
				path := found[(i+7*worker)%len(found)].Path
				data, err := files.Read(path)
				if assert.NoError(t, err) {
					sum := sha256.Sum256(data)
					assert.Equal(t, want[filepath.ToSlash(path[len(folder)+len("/00.ZIP/"):])], hex.EncodeToString(sum[:]))
				}
			}
		})
	}
	all.Wait()
	require.NoError(t, files.Close())
}

// FuzzZip holds the law of zip files: whatever the bytes, what is found is a member
// with a name of its own below the zip file that leads nowhere else; it is read to
// the size that was said, or refused; nothing else is returned; and little memory
// is needed for little bytes.
func FuzzZip(f *testing.F) {
	names, err := filepath.Glob("testdata/zip/*.zip")
	require.NoError(f, err)
	require.Len(f, names, 34, "the seeds of the fuzzer are missing")
	for _, name := range names {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(data)
	}
	path := filepath.Join(f.TempDir(), "fuzz.zip")
	f.Fuzz(func(t *testing.T, data []byte) {
		require.NoError(t, os.WriteFile(path, data, 0o644))
		files := &source.Files{}
		var found []source.Found
		// the list is bounded, and each byte of it makes a few of memory
		needsAtMost(t, 1<<20+64*uint64(len(data)), func() { found, err = files.Find([]string{path}) })
		requireRefusal(t, err)
		seen := map[string]bool{}
		for i, one := range found {
			requireRefusal(t, one.Fault)
			if one.Path == path {
				require.Error(t, one.Fault)
				require.Len(t, found, 1)
				continue
			}
			member, ok := strings.CutPrefix(one.Path, path+string(filepath.Separator))
			require.True(t, ok, one.Path)
			require.True(t, fs.ValidPath(filepath.ToSlash(member)), member)
			require.NotContains(t, member, `\`)
			require.False(t, strings.HasPrefix(member, ".") || strings.Contains(member, "/."), member)
			key := strings.ToLower(norm.NFC.String(member))
			require.False(t, seen[key], member)
			seen[key] = true
			if i >= 20 {
				continue
			}
			var read []byte
			needsAtMost(t, 2<<20+200*uint64(len(data)), func() { read, err = files.Read(one.Path) })
			requireRefusal(t, err)
			require.False(t, one.Fault != nil && err == nil, member)
			if err == nil {
				require.EqualValues(t, files.Size(one.Path), len(read))
			}
		}
		require.NoError(t, files.Close())
	})
}

func requireRefusal(t *testing.T, err error) {
	var r *study.Refusal
	if err != nil {
		require.True(t, errors.As(err, &r) && r.Try != "", "%v", err)
	}
}

func needsAtMost(t *testing.T, bytes uint64, do func()) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	require.LessOrEqual(t, after.TotalAlloc-before.TotalAlloc, bytes)
}
