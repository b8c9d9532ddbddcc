package population_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/population"
	"wane/study/series"
)

// processor returns the seconds of processor that the process has taken.
func processor(t *testing.T) float64 {
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// writeForR writes a study for testdata/peer.R.
func writeForR(t *testing.T, d *series.Data, name string) {
	file, err := os.Create(name)
	require.NoError(t, err)
	defer file.Close()
	w := csv.NewWriter(file)
	require.NoError(t, w.Write([]string{"coat", "cell", "lot", "coupon", "session", "t", "y"}))
	for i := range d.Coupons {
		c := &d.Coupons[i]
		coat := strings.TrimPrefix(c.Coating, "coating ")
		for k := range c.Points {
			p := &c.Points[k]
			require.NoError(t, w.Write([]string{coat, coat + string(c.Role), coat + " " + c.Lot, c.Coupon, p.Session,
				fmt.Sprint(p.Dose), fmt.Sprint(p.Level.Value)}))
		}
	}
	w.Flush()
	require.NoError(t, w.Error())
}

// The whole model on made-up studies against lme4 (testdata/peer.R), with the time of both, one after the other on one machine.
// It takes minutes, since lme4 does, whose search takes no slopes; WANE_LONG runs it. A run on 2 busy processors, in seconds
// of processor: 4 coatings, 288 values 0.01, lme4 0.20; 4,800 values 0.06, lme4 2.2; 10 coatings, 720 values 0.03, lme4 2.7;
// 12,000 values 0.12, lme4 61.
func TestAgainstLme4AtSize(t *testing.T) {
	if os.Getenv("WANE_LONG") == "" {
		t.Skip("it takes minutes; WANE_LONG=1 runs it")
	}
	for _, c := range []struct{ coatings, coupons, pulls int }{{4, 12, 6}, {4, 120, 10}, {10, 12, 6}, {10, 120, 10}} {
		d := large(c.coatings, c.coupons, c.pulls, 1, false)
		name := filepath.Join(t.TempDir(), "study.csv")
		writeForR(t, d, name)
		before := processor(t)
		p, err := population.Fit(t.Context(), d, population.Options{})
		require.NoError(t, err)
		ours := processor(t) - before
		out, err := exec.CommandContext(t.Context(), "Rscript", "testdata/peer.R", name).Output()
		require.NoError(t, err)
		var criterion, theirs float64
		_, err = fmt.Sscanf(string(out), "criterion %g \nseconds %g", &criterion, &theirs)
		require.NoError(t, err, string(out))
		values := 0
		for g := range p.Groups {
			values += p.Groups[g].Values
		}
		t.Logf("%d coatings, %d values: %.2f s of processor, lme4 %.2f s; REML criterion %.4f, lme4 %.4f",
			c.coatings, values, ours, theirs, p.Criterion(), criterion)
		assert.Less(t, p.Criterion(), criterion+1e-3, "a better minimum, or the same")
		for g := range p.Groups {
			var name string
			var value, se float64
			line := out[strings.Index(string(out), fmt.Sprintf("slope t%02d", g)):]
			_, err := fmt.Sscanf(string(line), "slope %s %g %g", &name, &value, &se)
			require.NoError(t, err)
			if math.Abs(p.Criterion()-criterion) < 1e-2 { // where lme4 has come to the same minimum
				assert.InDelta(t, value, p.Groups[g].Rate.Value, 0.02*se)
				assert.InEpsilon(t, se, p.Groups[g].Rate.SE, 0.02)
			}
		}
	}
}
