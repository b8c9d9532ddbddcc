package desk

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// The environment of the processes that share a study.
const (
	shareStudy   = "WANE_TEST_SHARE_STUDY"   // path of the study
	shareWriter  = "WANE_TEST_SHARE_WRITER"  // number of the writer; empty: it reads
	shareUntil   = "WANE_TEST_SHARE_UNTIL"   // when to end, RFC 3339
	shareSeconds = "WANE_TEST_SHARE_SECONDS" // of the parent: for how long, 3 if not set
)

// TestSharingChild is one of the processes of TestProcessesShareAStudy.
func TestSharingChild(t *testing.T) {
	path := os.Getenv(shareStudy)
	if path == "" {
		t.Skip("runs only as a child of TestProcessesShareAStudy")
	}
	until, err := time.Parse(time.RFC3339Nano, os.Getenv(shareUntil))
	require.NoError(t, err)
	writer := os.Getenv(shareWriter)
	for n := 0; time.Now().Before(until); n++ {
		if writer == "" {
			readShared(t, path)
		} else {
			number, err := strconv.Atoi(writer)
			require.NoError(t, err)
			writeShared(t, path, fmt.Sprintf("%d-%d", number+2*(n/20), n%20))
		}
		fmt.Println("done", n)
	}
}

// readShared opens the study to read it, and reads what a person looks at.
func readShared(t *testing.T, path string) {
	d, err := OpenToRead(t.Context(), path, tester())
	require.NoError(t, err)
	assert.Empty(t, d.Notes(), "nobody was cut off, and it is read where it is")
	_, err = d.Status(t.Context(), StatusOptions{})
	require.NoError(t, err)
	require.NoError(t, d.Results(t.Context(), ResultsOptions{}, func(*study.Result) error { return nil }))
	require.NoError(t, d.Complete(t.Context()))
	require.NoError(t, d.Close())
}

// writeShared opens the study and does with one lot what every verb does.
func writeShared(t *testing.T, path, lot string) {
	ctx, f := t.Context(), folder{t, filepath.Dir(path)}
	d, err := Open(ctx, path, tester())
	require.NoError(t, err)
	m := f.lot(lot)
	steps := append([]killedVerb{
		{"enrol", func(ctx context.Context, d *Desk, f folder, lot string) error {
			_, err := d.Enrol(ctx, []string{f.path + "/" + lot + "-coupons.csv", f.path + "/" + lot + "-exposures.csv",
				f.path + "/" + lot + "-pulls.csv"})
			return err
		}},
		{"intake", func(ctx context.Context, d *Desk, _ folder, _ string) error {
			in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 1})
			if err == nil {
				require.Empty(t, in.Refused)
			}
			return err
		}},
		{"fit", func(ctx context.Context, d *Desk, _ folder, _ string) error {
			_, err := d.Fit(ctx, FitOptions{Workers: 1})
			return err
		}},
	}, killedVerbs...)
	for _, step := range steps {
		err := step.do(ctx, d, f, lot)
		var busy *study.Failure
		if errors.As(err, &busy) && strings.Contains(busy.Fault, "in use by another process") {
			fmt.Println("waited too long for", step.verb, lot) // nothing was done, and nothing is acknowledged
			break
		}
		require.NoError(t, err, step.verb+" "+lot)
		fmt.Println("ack", step.verb, lot)
	}
	require.NoError(t, d.Close())
}

// Two processes that write and four that read share a study for a while: what was acknowledged is there as a whole, and
// the study verifies.
func TestProcessesShareAStudy(t *testing.T) {
	seconds := 3
	if text := os.Getenv(shareSeconds); text != "" {
		var err error
		seconds, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	path := filepath.Join(t.TempDir(), "shared.wane")
	d, err := New(t.Context(), path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	require.NoError(t, d.Close())
	until := time.Now().Add(time.Duration(seconds) * time.Second).Format(time.RFC3339Nano)
	outputs := make([]chan []string, 6)
	for i := range outputs {
		writer := ""
		if i < 2 {
			writer = strconv.Itoa(i)
		}
		outputs[i] = share(t, path, writer, until)
	}
	acked, reads, tooLong := map[string]bool{}, 0, 0
	for i := range outputs {
		for _, line := range <-outputs[i] {
			if what, ok := strings.CutPrefix(line, "ack "); ok {
				acked[what] = true
			}
			reads += asCount(i >= 2 && strings.HasPrefix(line, "done "))
			tooLong += asCount(strings.HasPrefix(line, "waited too long "))
		}
	}
	checkAfterKill(t, path, acked)
	assert.NotEmpty(t, acked)
	assert.NotZero(t, reads)
	t.Logf("in %d s: %d units acknowledged and found, %d rounds of reading, waited 5 s in vain %d times", seconds, len(acked),
		reads, tooLong)
}

// share starts a process, and hands over its lines when it has ended.
func share(t *testing.T, path, writer, until string) chan []string {
	cmd := exec.Command(os.Args[0], "-test.run=^TestSharingChild$", "-test.v")
	cmd.Env = append(os.Environ(), shareStudy+"="+path, shareWriter+"="+writer, shareUntil+"="+until)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	cmd.Stderr = cmd.Stdout
	require.NoError(t, cmd.Start())
	ended := make(chan []string, 1)
	go func() {
		var all []string
		for lines := bufio.NewScanner(out); lines.Scan(); {
			all = append(all, lines.Text())
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("writer %q: %v\n%s", writer, err, strings.Join(all, "\n"))
		}
		ended <- all
	}()
	return ended
}
