package desk

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// The study and a roster for the child process that may open few files.
const (
	filesStudy  = "WANE_TEST_FILES_STUDY"
	filesRoster = "WANE_TEST_FILES_ROSTER"
)

// TestFewFilesChild is the process that TestTooManyOpenFiles starts. It fits a study with many workers and
// prints the outcome.
func TestFewFilesChild(t *testing.T) {
	path := os.Getenv(filesStudy)
	if path == "" {
		t.Skip("runs only as the child of TestTooManyOpenFiles")
	}
	d, err := Open(context.Background(), path, tester())
	if err == nil {
		// The writer has its files open already: only readers can lack them.
		_, err = d.Enrol(context.Background(), []string{os.Getenv(filesRoster)})
		if err == nil {
			_, err = d.Fit(context.Background(), FitOptions{Workers: 16})
		}
		err = errors.Join(err, d.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
}

// If the process may open too few files, fit evaluates everything or fails: a reading that could not be
// read is not taken for one that cannot be evaluated.
func TestTooManyOpenFiles(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	coupons, m := couponHeader, mapHeader
	const many = 40
	for i := range many {
		code := fmt.Sprintf("E%02d", i)
		coupons += code + ",exposed,m,K,1,soda-lime,,matched,roof\n"
		f.export(code+".csv", 100+float64(i), 0, i)
		m += rows(code+".csv", code, 0)
	}
	_, err = d.Enrol(ctx, append(f.rosters()[1:], f.write("many.csv", coupons)))
	require.NoError(t, err)
	f.takeIn(d, "map.csv", m)
	released(t, d)
	require.NoError(t, d.Close())
	whole, err := os.ReadFile(filepath.Join(f.path, "made.wane"))
	require.NoError(t, err)

	more := f.write("one-more.csv", couponHeader+"Z1,exposed,m,K,1,soda-lime,,matched,roof\n")
	self, err := os.Executable()
	require.NoError(t, err)
	done, short := 0, 0
	for _, files := range []int{12, 13, 14, 15, 16, 17, 18, 20, 22, 200} {
		path := filepath.Join(t.TempDir(), "few.wane")
		require.NoError(t, os.WriteFile(path, whole, 0o644))
		child := exec.Command("/bin/sh", "-c",
			fmt.Sprintf(`ulimit -n %d && exec "$0" -test.run '^TestFewFilesChild$'`, files), self)
		child.Env = append(os.Environ(), filesStudy+"="+path, filesRoster+"="+more, "GOMAXPROCS=16")
		said, err := child.CombinedOutput()
		var exit *exec.ExitError
		require.True(t, err == nil || errors.As(err, &exit), "%v", err)

		d := open(t, path)
		evaluated, not := 0, 0
		for _, r := range results(t, d) {
			if strings.Contains(strings.Join(r.Flags, " "), "not-evaluated") {
				not++
			} else {
				evaluated++
			}
		}
		assert.Zero(t, not, "with %d files: %s", files, said)
		if err == nil {
			assert.Equal(t, many, evaluated, "with %d files: %s", files, said)
			done++
		} else if strings.Contains(string(said), "many open files") || strings.Contains(string(said), "many files are open") {
			short++
		}
		require.NoError(t, d.Close())
	}
	assert.Positive(t, done, "with enough files it goes well")
	assert.Positive(t, short, "with too few it says so")
}
