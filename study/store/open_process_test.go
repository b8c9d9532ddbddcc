package store_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
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
		if os.Getenv("STORE_TEST_REOPEN") != "" {
			write = reopenAndWrite
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

// reopenAndWrite opens the study anew for each export.
func reopenAndWrite(path, name string) error {
	ctx := context.Background()
	for i := range 1000 {
		s, err := store.Open(ctx, path)
		if err != nil {
			return err
		}
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
