package store_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// In a process of its own: adds exports of spots NAME-0, NAME-1 ... of C001 to the
// study and prints the number of each that was committed.
func TestMain(m *testing.M) {
	if path := os.Getenv("STORE_TEST_WRITE"); path != "" {
		write := writeExports
		if os.Getenv("STORE_TEST_OPEN") != "" {
			write = openAndClose
		}
		if os.Getenv("STORE_TEST_REOPEN") != "" {
			write = reopenAndWrite
		}
		if os.Getenv("STORE_TEST_REREAD") != "" {
			write = reopenAndRead
		}
		if err := write(path, os.Getenv("STORE_TEST_NAME")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	code := m.Run()
	if largeFolder != "" {
		if err := os.RemoveAll(largeFolder); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}
	os.Exit(code)
}

const exportsPerProcess = 60

func writeExports(path, name string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, path)
	if err != nil {
		return err
	}
	for i := range exportsPerProcess {
		unit := study.Unit{Coupon: "C001", Pull: 1, Spot: fmt.Sprintf("%s-%d", name, i)}
		e, readings := export(unit.Spot, unit, 8, 45)
		err := s.Write(ctx, entry("intake"), func(tx *store.Tx) error {
			if _, err := tx.AddExport(e, how, readings); err != nil {
				return err
			}
			return tx.PutFit(fitOf(unit, float64(i)))
		})
		if err != nil {
			return err
		}
		fmt.Println(i)
	}
	return s.Close()
}

// openings is how often a process opens the study anew.
func openings() int {
	if n, err := strconv.Atoi(os.Getenv("STORE_TEST_OPENINGS")); err == nil {
		return n
	}
	return 1000
}

// reopenAndWrite opens the study anew for each export.
func reopenAndWrite(path, name string) error {
	ctx := context.Background()
	for i := range openings() {
		s, err := store.Open(ctx, path)
		if err != nil {
			return err
		}
		printNotes(s)
		unit := study.Unit{Coupon: "C001", Pull: 1, Spot: fmt.Sprintf("%s-%d", name, i)}
		e, readings := export(unit.Spot, unit, 8)
		err = s.Write(ctx, entry("intake"), func(tx *store.Tx) error {
			_, err := tx.AddExport(e, how, readings)
			return err
		})
		if err != nil {
			return err
		}
		fmt.Println(i)
		if err := s.Close(); err != nil {
			return err
		}
	}
	return nil
}

// reopenAndRead opens the study anew for each look at its log.
func reopenAndRead(path, _ string) error {
	ctx := context.Background()
	for i := range openings() {
		s, err := store.OpenToRead(ctx, path)
		if err != nil {
			return err
		}
		printNotes(s)
		if err := s.Complete(ctx); err != nil {
			return err
		}
		fmt.Println(i)
		if err := s.Close(); err != nil {
			return err
		}
	}
	return nil
}

func printNotes(s *store.Store) {
	for _, n := range s.Notes() {
		fmt.Println("note:", n)
	}
}

// openAndClose opens a study, which migrates one of an older version, and closes it.
func openAndClose(path, _ string) error {
	fmt.Println("opening")
	s, err := store.Open(context.Background(), path)
	if err != nil {
		return err
	}
	return s.Close()
}

func writer(t testing.TB, path, name string) *exec.Cmd {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "STORE_TEST_WRITE="+path, "STORE_TEST_NAME="+name)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(stderr.String())
		}
	})
	return cmd
}

func TestTwoProcessesWrite(t *testing.T) {
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	one, two := writer(t, path, "one"), writer(t, path, "two")
	require.NoError(t, one.Start())
	require.NoError(t, two.Start())
	require.NoError(t, one.Wait())
	require.NoError(t, two.Wait())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path), "the last to close leaves one file")

	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	report := verified(t, s)
	assert.EqualValues(t, 2+2*exportsPerProcess, report.Lines)
	assert.Len(t, allUnits(t, s), 2*exportsPerProcess)
}

// Two processes that open, write and close a study all the time, and four that open and read it, are never refused, and
// none takes what another is just doing for something that was cut off, damaged or of another file.
func TestProcessesOpenAndClose(t *testing.T) {
	times := 12
	if text := os.Getenv("STORE_TEST_OPENINGS"); text != "" {
		var err error
		times, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	processes, outputs := make([]*exec.Cmd, 6), make([]strings.Builder, 6)
	for i := range processes {
		kind := "STORE_TEST_REOPEN=1"
		if i >= 2 {
			kind = "STORE_TEST_REREAD=1"
		}
		processes[i] = writer(t, path, fmt.Sprint(i))
		processes[i].Env = append(processes[i].Env, kind, fmt.Sprintf("STORE_TEST_OPENINGS=%d", times))
		processes[i].Stdout = &outputs[i]
		require.NoError(t, processes[i].Start())
	}
	for i, p := range processes {
		assert.NoError(t, p.Wait())
		assert.NotContains(t, outputs[i].String(), "note:")
	}
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	verifiedFile(t, path)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	assert.Len(t, allUnits(t, s), 2*times)
	t.Logf("%d openings by %d processes", times*len(processes), len(processes))
}

func TestGoroutinesWriteAndRead(t *testing.T) {
	s, path := enrolled(t)
	other, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer other.Close()
	var work sync.WaitGroup
	for w := range 4 {
		st := []*store.Store{s, other}[w%2]
		work.Go(func() {
			for i := range 20 {
				u := study.Unit{Coupon: "C001", Pull: 1, Spot: fmt.Sprintf("%d-%d", w, i)}
				e, readings := export(u.Spot, u, 8, 45)
				err := st.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
					if _, err := tx.AddExport(e, how, readings); err != nil {
						return err
					}
					return tx.PutFit(fitOf(u, 1))
				})
				assert.NoError(t, err)
				// A reader within a reader, each on its own moment.
				assert.NoError(t, st.Fits(t.Context(), func(f *study.Fit) error {
					got, err := st.Readings(t.Context(), f.Unit)
					assert.Len(t, got, 2)
					return err
				}))
			}
		})
	}
	work.Wait()
	verified(t, s)
	assert.Len(t, allUnits(t, s), 80)
}

// A process killed at any moment leaves what it was told is committed, and
// nothing half. (This says nothing of a loss of power; that is what full
// synchronisation is for.)
func TestKilledProcess(t *testing.T) {
	seed := rand.Uint64()
	r := rand.New(rand.NewPCG(seed, 0))
	for round := range 6 {
		s, path := enrolled(t)
		require.NoError(t, s.Close())
		cmd := writer(t, path, "k")
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		acknowledged := 0
		for wanted := r.IntN(exportsPerProcess - 5); acknowledged < wanted && lines.Scan(); {
			acknowledged++
		}
		time.Sleep(time.Duration(r.IntN(4000)) * time.Microsecond)
		require.NoError(t, cmd.Process.Kill())
		for lines.Scan() {
			acknowledged++
		}
		_ = cmd.Wait() // killed

		s, err = store.Open(t.Context(), path)
		require.NoError(t, err, "seed %d, round %d", seed, round)
		verified(t, s)
		units := allUnits(t, s)
		assert.GreaterOrEqual(t, len(units), acknowledged, "seed %d, round %d", seed, round)
		assert.Len(t, allFits(t, s), len(units), "seed %d, round %d", seed, round)
		require.NoError(t, s.Close())
		assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	}
}

// The same at moments of which most are those of opening and closing: none leaves a study
// that is refused, or that lost what was acknowledged.
func TestKilledWhileOpeningOrClosing(t *testing.T) {
	seed := rand.Uint64()
	r := rand.New(rand.NewPCG(seed, 0))
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	acknowledged := 0
	for round := range 25 {
		cmd := writer(t, path, fmt.Sprint(round))
		cmd.Env = append(cmd.Env, "STORE_TEST_REOPEN=1")
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		for wanted := r.IntN(3); wanted > 0 && lines.Scan(); wanted-- {
			acknowledged++
		}
		time.Sleep(time.Duration(r.IntN(30_000)) * time.Microsecond)
		require.NoError(t, cmd.Process.Kill())
		for lines.Scan() {
			acknowledged++
		}
		_ = cmd.Wait() // killed

		open := store.Open
		if round%2 == 1 {
			open = store.OpenToRead
		}
		s, err := open(t.Context(), path)
		require.NoError(t, err, "seed %d, round %d", seed, round)
		require.GreaterOrEqual(t, len(allUnits(t, s)), acknowledged, "seed %d, round %d", seed, round)
		require.NoError(t, s.Close())
		require.Equal(t, []string{"s.wane"}, filesBeside(t, path), "seed %d, round %d", seed, round)
	}
	verifiedFile(t, path)
}

// A process that brings a study of an older version to the newest is killed meanwhile. The next one brings it there, with
// all that it held.
func TestKilledWhileMigrating(t *testing.T) {
	kills := 10
	if text := os.Getenv("STORE_TEST_KILLS"); text != "" {
		var err error
		kills, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	seed := rand.Uint64()
	r := rand.New(rand.NewPCG(seed, 0))
	olds, err := filepath.Glob("testdata/study-v*.wane.gz")
	require.NoError(t, err)
	whole := map[string]string{}
	for _, old := range olds {
		path := unpacked(t, old)
		s, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		whole[old] = dump(t, s)
		require.NoError(t, s.Close())
	}
	for round := range kills {
		old := olds[round%len(olds)]
		path := unpacked(t, old)
		cmd := writer(t, path, "")
		cmd.Env = append(cmd.Env, "STORE_TEST_OPEN=1")
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		require.True(t, lines.Scan())
		time.Sleep(time.Duration(r.IntN(25_000)) * time.Microsecond)
		_ = cmd.Process.Kill() // it may have ended
		_ = cmd.Wait()         // killed, or done

		s, err := store.Open(t.Context(), path)
		require.NoError(t, err, "seed %d, round %d", seed, round)
		require.Equal(t, whole[old], dump(t, s), "seed %d, round %d", seed, round)
		verified(t, s)
		require.NoError(t, s.Close())
	}
	t.Logf("%d kills of the migration of %d studies", kills, len(olds))
}

// A writer that has to wait for another says so, and for what.
func TestWritersSayThatTheyWait(t *testing.T) {
	s, path := enrolled(t)
	other, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	said := make(chan string, 1)
	other.SetWaiting(func(what string) { said <- what })
	unit := study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}
	e, readings := export("a.csv", unit, 8)
	add := func(tx *store.Tx) error {
		_, err := tx.AddExport(e, how, readings)
		return err
	}
	done := make(chan error, 1)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		if _, err := tx.AddCoupon(coupon("C777", study.Exposed, "rack")); err != nil {
			return err
		}
		go func() { done <- other.Write(t.Context(), entry("intake"), add) }()
		assert.Equal(t, path+" is being written by another process: waiting for that to end, 5 s at most", <-said)
		return nil
	}))
	require.NoError(t, <-done)
	require.NoError(t, other.Close())
}
