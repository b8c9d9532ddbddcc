package desk

import (
	"bufio"
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// checkSums lets sha256sum, which is not ours, check a folder, and returns how many
// files it found right.
func checkSums(t *testing.T, folder string) int {
	t.Helper()
	program, err := exec.LookPath("sha256sum")
	if err != nil {
		const missing = "there is no sha256sum to check the originals with; install it (Debian: apt-get install coreutils)"
		if os.Getenv("CI") != "" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	check := exec.Command(program, "--check", "--strict", sumsName)
	check.Dir = folder
	out, err := check.CombinedOutput()
	require.NoError(t, err, string(out))
	return strings.Count(string(out), ": OK\n")
}

func sameBytes(t *testing.T, a, b string) {
	t.Helper()
	one, err := os.ReadFile(a)
	require.NoError(t, err)
	other, err := os.ReadFile(b)
	require.NoError(t, err)
	assert.Equal(t, one, other, "%s and %s", a, b)
}

// tablesOfStart are the rosters and the map that the studies of these tests were given.
var tablesOfStart = []string{"coupons.csv", "exposures.csv", "pulls.csv", "map.csv"}

func TestExportOriginals(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	names := f.exportsOf()
	f.takeAll(d, names...)
	f.write("pics/edge.png", "\x89PNG made up\x00\xff\r\n")
	_, err := d.Measure(ctx,
		[]string{f.write("gauges.csv", measuredHeader+"E1,0,1,haze,1,,percent,haze meter,2026-01-02,,pics/edge.png,\n")})
	require.NoError(t, err)

	folder := filepath.Join(f.path, "out")
	got, err := d.ExportOriginals(ctx, folder, nil)
	require.NoError(t, err)
	total := int64(0)
	for _, name := range append(append(names, "gauges.csv", "pics/edge.png"), tablesOfStart...) {
		sameBytes(t, filepath.Join(f.path, name), filepath.Join(folder, filepath.Base(name)))
		info, err := os.Stat(filepath.Join(f.path, name))
		require.NoError(t, err)
		total += info.Size()
	}
	assert.Equal(t, Originals{Files: 11, Bytes: total}, *got)
	assert.Equal(t, 11, checkSums(t, folder))

	t.Run("some of them, by name and by sum, into an empty folder", func(t *testing.T) {
		few := t.TempDir()
		got, err := d.ExportOriginals(ctx, few,
			[]string{"E1-0.csv", sumOf(t, filepath.Join(f.path, "pics/edge.png"))[:12], "E1-0.csv"})
		require.NoError(t, err)
		assert.Equal(t, 2, got.Files)
		entries, err := os.ReadDir(few)
		require.NoError(t, err)
		require.Len(t, entries, 3)
		assert.Equal(t, 2, checkSums(t, few))
	})
	t.Run("refused", func(t *testing.T) {
		before, err := os.ReadDir(folder)
		require.NoError(t, err)
		for _, c := range []struct {
			folder, fault string
			names         []string
		}{
			{folder, "the folder is not empty", nil},
			{filepath.Join(f.path, "made.wane"), "could not make or read the folder", nil},
			{filepath.Join(f.path, "no", "such"), "could not make or read the folder", nil},
			{filepath.Join(f.path, "never"), `called "nowhere.csv" is in the study`, []string{"E1-0.csv", "nowhere.csv"}},
		} {
			_, err := d.ExportOriginals(ctx, c.folder, c.names)
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, err.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		}
		after, err := os.ReadDir(folder)
		require.NoError(t, err)
		assert.Len(t, after, len(before))
		assert.NoDirExists(t, filepath.Join(f.path, "never"))
		assert.NoDirExists(t, filepath.Join(f.path, "no"))
	})
	t.Run("stopped, it leaves nothing behind", func(t *testing.T) {
		w := newOriginalsWriter(filepath.Join(f.path, "cut"), 0o644, nil)
		require.NoError(t, w.begin(ctx))
		require.NoError(t, w.write("a", []byte("a")))
		require.Error(t, w.write("a", []byte("b")), "never over a file")
		require.NoError(t, w.remove())
		assert.NoDirExists(t, w.folder)
	})
}

const (
	exportStudy  = "DESK_TEST_EXPORT_STUDY" // of the child
	exportFolder = "DESK_TEST_EXPORT_FOLDER"
)

// cutAfter is a context that blocks for ever once the folder holds so many files.
type cutAfter struct {
	context.Context
	folder string
	files  int
}

func (c cutAfter) Err() error {
	if whole, err := wholeFiles(c.folder); err == nil && len(whole) >= c.files {
		fmt.Println("cut")
		select {}
	}
	return c.Context.Err()
}

// wholeFiles returns the names in a folder but of files that are being made.
func wholeFiles(folder string) (names []string, err error) {
	entries, err := os.ReadDir(folder)
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".partial") {
			names = append(names, e.Name())
		}
	}
	return names, err
}

// TestExportingChild is the process that TestExportOriginalsResumesAfterAKill kills.
func TestExportingChild(t *testing.T) {
	path, folder := os.Getenv(exportStudy), os.Getenv(exportFolder)
	if path == "" {
		t.Skip("runs only as the child of TestExportOriginalsResumesAfterAKill")
	}
	d, err := OpenToRead(t.Context(), path, tester())
	require.NoError(t, err)
	_, _ = d.ExportOriginals(cutAfter{t.Context(), folder, 3}, folder, nil)
}

// A process that is killed leaves whole files and no SHA256SUMS, and the same call completes its work. A
// folder that holds anything else is refused and does not change.
func TestExportOriginalsResumesAfterAKill(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	names := f.exportsOf()
	f.takeAll(d, names...)
	folder := filepath.Join(f.path, "out")
	child := exec.Command(os.Args[0], "-test.run=^TestExportingChild$")
	child.Env = append(os.Environ(), exportStudy+"="+filepath.Join(f.path, "made.wane"), exportFolder+"="+folder)
	said, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	lines := bufio.NewScanner(said)
	require.True(t, lines.Scan())
	require.Equal(t, "cut", lines.Text())
	require.NoError(t, child.Process.Kill())
	require.EqualError(t, child.Wait(), "signal: killed")

	there, err := wholeFiles(folder) // the child may have gone on until the kill came
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(there), 3)
	require.NotContains(t, there, sumsName)
	for _, name := range there {
		sameBytes(t, filepath.Join(f.path, name), filepath.Join(folder, name))
	}
	half := filepath.Join(folder, ".E1-2.csv.ABCDEFGHIJKLMNOPQRSTUVWX23.partial") // of a process killed within a file
	require.NoError(t, os.WriteFile(half, []byte("nm"), 0o600))

	first := filepath.Join(folder, there[0])
	whole, err := os.ReadFile(first)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(first, append(whole, '\n'), 0o644))
	_, err = d.ExportOriginals(ctx, folder, nil)
	require.ErrorContains(t, err, "the folder is not empty: it has "+there[0], "of other bytes")
	require.NoError(t, os.WriteFile(first, whole, 0o644))
	other := filepath.Join(folder, "other.txt")
	require.NoError(t, os.WriteFile(other, nil, 0o600))
	_, err = d.ExportOriginals(ctx, folder, nil)
	require.ErrorContains(t, err, "the folder is not empty: it has other.txt")
	require.FileExists(t, first)
	require.NoError(t, os.Remove(other))

	got, err := d.ExportOriginals(ctx, folder, nil)
	require.NoError(t, err)
	assert.Equal(t, len(names)+len(tablesOfStart), got.Files)
	assert.NoFileExists(t, half)
	assert.Equal(t, len(names)+len(tablesOfStart), checkSums(t, folder))
	_, err = d.ExportOriginals(ctx, folder, nil)
	require.ErrorContains(t, err, "the folder is not empty", "once it is complete")
}

// Names that lead out of the folder or that are taken are made safe and reported. No file is lost, and
// none is written outside the folder.
func TestExportOriginalsWithStrangeNames(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	strange := []string{"a.csv", "a.csv", "A.CSV", "../up.csv", "/etc/passwd", `..\back.csv`, "C:drive.csv", "..", ".",
		"", "SHA256SUMS", "sha256sums",
		"line\nbreak.csv", "\xff\xfe.csv", strings.Repeat("long", 80) + ".csv", "-rf", "with space.csv", "plain.csv"}
	entry := d.entry("measure", "strange names")
	require.NoError(t, d.store.Write(ctx, entry, func(tx *store.Tx) error {
		for i, name := range strange {
			data := fmt.Appendf(nil, "made up %d", i)
			m := study.Measurement{Coupon: "E1", Quantity: "haze", Value: 1, U: study.Null(), Method: "x", Date: "2026-01-02",
				Replicate: i + 1, Line: 2}
			if _, err := tx.AddMeasurement(study.Export{Name: name, Data: data, SHA256: sha256.Sum256(data)}, m,
				nil); err != nil {
				return err
			}
		}
		return nil
	}))
	folder := filepath.Join(f.path, "deep", "out")
	require.NoError(t, os.Mkdir(filepath.Dir(folder), 0o755))
	got, err := d.ExportOriginals(ctx, folder, nil)
	require.NoError(t, err)
	rosters := len(tablesOfStart) - 1 // no map was given
	assert.Equal(t, len(strange)+rosters, got.Files)
	assert.Len(t, got.Notes, len(strange)-4, "all but the first a.csv, -rf, with space.csv and plain.csv: %q", got.Notes)
	assert.Contains(t, strings.Join(got.Notes, "\n"), `"../up.csv" is written as .._up.csv`)

	beside, err := os.ReadDir(filepath.Dir(folder))
	require.NoError(t, err)
	assert.Len(t, beside, 1)
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, entries, len(strange)+rosters+1)
	bytes, folded := map[string]bool{}, map[string]bool{}
	for _, e := range entries {
		assert.True(t, e.Type().IsRegular(), e.Name())
		data, err := os.ReadFile(filepath.Join(folder, e.Name()))
		require.NoError(t, err)
		bytes[string(data)] = true
		folded[strings.ToLower(e.Name())] = true
	}
	assert.Len(t, folded, len(entries), "also where case does not count")
	for i := range strange {
		assert.True(t, bytes[fmt.Sprintf("made up %d", i)], strange[i])
	}
	assert.Equal(t, len(strange)+rosters, checkSums(t, folder))
}

// A name is free in the end, even if all names made of its SHA-256 are taken.
func TestFreeName(t *testing.T) {
	w := &originalsWriter{taken: map[string]bool{}}
	sum := strings.Repeat("0123456789abcdef", 4)
	assert.Equal(t, "a.csv", w.freeName("a.csv", sum))
	assert.Equal(t, "a-01234567.csv", w.freeName("a.csv", sum))
	seen := map[string]bool{"a.csv": true, "a-01234567.csv": true}
	for range 20 {
		name := w.freeName("a.csv", sum)
		assert.False(t, seen[name], name)
		seen[name] = true
	}
}
