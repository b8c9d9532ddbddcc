package desk

import (
	"bufio"
	"context"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// The environment of the child process that is killed.
const (
	killStudy = "WANE_TEST_KILL_STUDY" // path of the study
	killRound = "WANE_TEST_KILL_ROUND" // number of the round, from 0
	killCount = "WANE_TEST_KILLS"      // of the parent: how many kills, 8 if not set
)

// TestKilledChild is the process that TestKilledAtAnyMoment kills: it enrols,
// takes in and fits one small lot after the other, does with each what every other
// verb does, and says after each unit what has been acknowledged to it.
func TestKilledChild(t *testing.T) {
	path := os.Getenv(killStudy)
	if path == "" {
		t.Skip("runs only as the child of TestKilledAtAnyMoment")
	}
	ctx := context.Background()
	round, err := strconv.Atoi(os.Getenv(killRound))
	require.NoError(t, err)
	d, err := Open(ctx, path, tester())
	require.NoError(t, err)
	f := folder{t, filepath.Dir(path)}
	for k := range 1000 {
		lot := fmt.Sprintf("%d-%d", round, k)
		m := f.lot(lot)
		_, err := d.Enrol(ctx, []string{f.path + "/" + lot + "-coupons.csv", f.path + "/" + lot + "-exposures.csv",
			f.path + "/" + lot + "-pulls.csv"})
		require.NoError(t, err)
		fmt.Println("ack enrol", lot)
		in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 2})
		require.NoError(t, err)
		require.Empty(t, in.Refused)
		fmt.Println("ack intake", lot)
		_, err = d.Fit(ctx, FitOptions{Workers: 2})
		require.NoError(t, err)
		fmt.Println("ack fit", lot)
		for _, step := range slices.Concat(killedVerbs, killedFiles) {
			require.NoError(t, step.do(ctx, d, f, lot), step.verb)
			fmt.Println("ack", step.verb, lot)
		}
	}
}

const (
	lotCoupons = 3
	lotExports = 4
	lotCurves  = 2 // per export
)

// lot writes the rosters, exports and map of a lot and returns the map.
func (f folder) lot(name string) string {
	coupons, text := couponHeader, mapHeader
	for i := range lotCoupons {
		coupons += fmt.Sprintf("%s-%d,exposed,m,K,1,soda-lime,,matched,x%s\n", name, i, name)
	}
	f.write(name+"-coupons.csv", coupons)
	f.write(name+"-exposures.csv", exposureHeader+"x"+name+",rack,nowhere,days,2026-01-01\n")
	f.write(name+"-pulls.csv", pullHeader+"x"+name+",0,0,2026-01-01\nx"+name+",1,90,2026-04-01\n")
	for i := range lotExports {
		file := fmt.Sprintf("%s-%d.csv", name, i)
		f.write(file, fmt.Sprintf("lot %s\n", name)+killedCurves(f.tb, name, i))
		text += rows(file, fmt.Sprintf("%s-%d", name, i/2), i%2)
	}
	return f.write(name+"-map.csv", text)
}

// killedCurves is a made-up export of two curves, which differ from those of all other lots. Exports of a
// lot differ by whole hundredths of a percent, lots by multiples of 7 millionths, of which none below 7 is
// a whole hundredth: a guard would hold curves that are equal to the last digit.
func killedCurves(t testing.TB, lot string, i int) string {
	var round, k int
	_, err := fmt.Sscanf(lot, "%d-%d", &round, &k)
	require.NoError(t, err)
	own := 7e-6 * float64(20*round+k)
	var b strings.Builder
	b.WriteString("nm,8 deg %R,60 deg %R\n")
	for k := range 15 {
		fmt.Fprintf(&b, "%d,%.6f,%.6f\n", 400+40*k, own+1.5+0.07*float64(k)+0.01*float64((k*k+i)%5),
			own+6+0.1*float64(k)+0.01*float64((k*k+i)%7))
	}
	return b.String()
}

// A process that goes through all verbs that write is killed at random moments. After each kill the file verifies,
// and every acknowledged unit is there as a whole. SIGKILL does not show a loss of power: there it counts
// that each commit is synchronised to the disk before it is acknowledged, which the settings of the store
// require and the disk must do.
func TestKilledAtAnyMoment(t *testing.T) {
	kills := 8
	if text := os.Getenv(killCount); text != "" {
		var err error
		kills, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	var units atomic.Int64
	t.Run("studies", func(t *testing.T) {
		for done := 0; done < kills; done += killsOfStudy {
			t.Run(fmt.Sprintf("from kill %d", done+1), func(t *testing.T) {
				t.Parallel()
				rng := rand.New(rand.NewPCG(7, uint64(done)))
				units.Add(int64(killStudyOften(t, min(killsOfStudy, kills-done), rng)))
			})
		}
	})
	t.Logf("%d kills, %d units acknowledged and found", kills, units.Load())
	assert.Greater(t, int(units.Load()), kills, "the child was killed before it did anything")
}

// killsOfStudy is how often the processes of one study are killed: after each kill all of it is looked at.
const killsOfStudy = 25

// killStudyOften makes a study, kills processes that work on it, and returns how many units they acknowledged.
func killStudyOften(t *testing.T, kills int, rng *rand.Rand) int {
	path := filepath.Join(t.TempDir(), "killed.wane")
	d, err := New(t.Context(), path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	require.NoError(t, d.Close())
	acked, most := map[string]bool{}, 3+2*len(killedVerbs)+2*len(killedFiles) // nearly two lots
	for round := range kills {
		units := min(rng.IntN(most), rng.IntN(most)) // the first verbs of a lot, too, are killed often
		now := killOnce(t, path, round, units, time.Duration(rng.IntN(60_000))*time.Microsecond)
		for _, a := range now {
			acked[a] = true
		}
		checkAfterKill(t, path, acked)
		checkFilesAfterKill(t, path, now)
		if t.Failed() {
			t.Fatalf("after kill %d of this study", round+1)
		}
	}
	return len(acked)
}

// killOnce runs the child, kills it some time after it has acknowledged so many units, and returns what
// was acknowledged. It waits for units, not for a time, since a busy machine is slow.
func killOnce(t *testing.T, path string, round, units int, wait time.Duration) (acked []string) {
	cmd := exec.Command(os.Args[0], "-test.run=^TestKilledChild$", "-test.v")
	cmd.Env = append(os.Environ(), killStudy+"="+path, killRound+"="+strconv.Itoa(round))
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	cmd.Stderr = cmd.Stdout
	require.NoError(t, cmd.Start())
	kill := func() { time.AfterFunc(wait, func() { _ = cmd.Process.Kill() }) } // what has ended fails below
	if units == 0 {
		kill()
	}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		assert.NotContains(t, lines.Text(), "FAIL")
		if what, ok := strings.CutPrefix(lines.Text(), "ack "); ok {
			if acked = append(acked, strings.TrimSpace(what)); len(acked) == units {
				kill()
			}
		}
	}
	assert.EqualError(t, cmd.Wait(), "signal: killed")
	return acked
}

// checkAfterKill opens the study and compares it with what was acknowledged.
func checkAfterKill(t *testing.T, path string, acked map[string]bool) {
	ctx := context.Background()
	d, err := Open(ctx, path, tester())
	require.NoError(t, err)
	defer func() { require.NoError(t, d.Close()) }()
	report, err := d.store.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Findings)

	roster, err := d.store.Roster(ctx)
	require.NoError(t, err)
	coupons, pulls := map[string]int{}, map[string]int{}
	for _, c := range roster.Coupons {
		if lot, ok := strings.CutPrefix(c.Exposure, "x"); ok {
			coupons[lot]++
		}
	}
	for _, p := range roster.Pulls {
		pulls[strings.TrimPrefix(p.Exposure, "x")]++
	}
	there := verbsThere(t, d)
	for lot, n := range coupons {
		if !there.done["withdraw "+lot] {
			assert.Equal(t, lotCoupons, n, "lot %s is half there", lot)
		}
		assert.Equal(t, 2, pulls[lot], "lot %s is half there", lot)
		exportsThere(t, d, path, lot)
	}
	for a := range acked {
		verb, lot, _ := strings.Cut(a, " ")
		switch verb {
		case "export", "workbook", "backup", "rebuild": // looked at once, by checkFilesAfterKill
		case "enrol":
			assert.NotZero(t, coupons[lot], a)
		case "intake":
			assert.Equal(t, lotExports, exportsThere(t, d, path, lot), a)
		case "fit":
			assert.GreaterOrEqual(t, len(there.fitted[lot]), lotExports, a)
		default:
			assert.True(t, there.done[a], a)
		}
	}
}

// exportsThere counts the exports of a lot in the study. Each must be there as a whole.
func exportsThere(t *testing.T, d *Desk, path, lot string) int {
	n := 0
	for i := range lotExports {
		data, err := os.ReadFile(filepath.Join(filepath.Dir(path), fmt.Sprintf("%s-%d.csv", lot, i)))
		require.NoError(t, err)
		places, err := d.store.Placed(context.Background(), sha256.Sum256(data))
		require.NoError(t, err)
		if len(places) > 0 {
			assert.Len(t, places, lotCurves, "export %d of lot %s is half there", i, lot)
			n++
		}
	}
	return n
}
