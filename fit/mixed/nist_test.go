package mixed_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/mixed"
)

// oneWay fits groups of equal size n, given as texts, with a variance between and one within them.
func oneWay(t *testing.T, groups []string) (f *mixed.Fit, n float64) {
	m := &mixed.Model{Terms: []mixed.Term{{Name: "treatment"}}}
	for g, texts := range groups {
		fields := strings.Fields(texts)
		n = float64(len(fields))
		for _, text := range fields {
			y, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			m.Y, m.Terms[0].Of = append(m.Y, y), append(m.Terms[0].Of, g)
		}
	}
	m.X = [][]float64{ones(len(m.Y))}
	return fitted(t, m), n
}

// The one-way data sets of NIST's Statistical Reference Datasets, with their certified mean squares between and within: in
// balanced data the residual is the one within, and that between is the residual plus n times the variance of the groups.
// Data and certified values are from memory; computed with 40 digits, the data give the certified values to all of theirs.
func TestNISTOneWay(t *testing.T) {
	for _, c := range []struct {
		name            string
		groups          []string
		between, within float64
	}{
		{"SiRstv", []string{"196.3052 196.1240 196.1890 196.2569 196.3403", "196.3042 196.3825 196.1669 196.3257 196.0422",
			"196.1303 196.2005 196.2889 196.0343 196.1811", "196.2795 196.1748 196.1494 196.1485 195.9885",
			"196.2119 196.1051 196.1850 196.0052 196.2090"}, 1.27865654e-2, 1.0831828e-2},
		{"AtmWtAg", []string{
			"107.8681568 107.8681465 107.8681572 107.8681785 107.8681446 107.8681903 107.8681526 107.8681494 107.8681616 " +
				"107.8681587 107.8681519 107.8681486 107.8681419 107.8681569 107.8681508 107.8681672 107.8681385 107.8681518 " +
				"107.8681662 107.8681424 107.8681360 107.8681333 107.8681610 107.8681477",
			"107.8681079 107.8681344 107.8681513 107.8681197 107.8681604 107.8681385 107.8681642 107.8681365 107.8681151 " +
				"107.8681082 107.8681517 107.8681448 107.8681198 107.8681482 107.8681334 107.8681609 107.8681101 107.8681512 " +
				"107.8681469 107.8681360 107.8681254 107.8681261 107.8681450 107.8681368"}, 3.638341875e-9, 2.28155932971014e-10},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, n := oneWay(t, c.groups)
			assert.InEpsilon(t, c.within, f.Residuals[0], 1e-7)
			assert.InEpsilon(t, c.between, f.Residuals[0]+n*f.Terms[0][0].At(0, 0), 1e-7)
		})
	}
}

// The nine sets of Simon and Lesage in the same collection, which NIST made with 21, 201 or 2001 values in each of nine
// treatments and up to 13 constant leading digits: the first value of a treatment is its mean, the others lie 0.1 below and
// above it in turn; the construction and the certified values are from memory. The tolerance grows with the digits that the
// values lose as numbers of 64 bits.
func TestNISTSimonLesage(t *testing.T) {
	for set, offset := range []string{"", "1000000", "1000000000000"} {
		for _, c := range []struct {
			n       int
			between float64
		}{{21, 0.21}, {201, 2.01}, {2001, 20.01}} {
			t.Run(fmt.Sprint(offset, " ", c.n), func(t *testing.T) {
				var groups []string
				for g := range 9 {
					tenths := 4 // of the mean of the first treatment: those of the others are 0.1 below and above it
					if g > 0 {
						tenths += 2*(g%2) - 1
					}
					values := []string{offset + "." + strconv.Itoa(tenths)}
					for k := range c.n - 1 {
						values = append(values, offset+"."+strconv.Itoa(tenths+2*(k%2)-1))
					}
					groups = append(groups, strings.Join(values, " "))
				}
				f, n := oneWay(t, groups)
				tolerance := []float64{1e-8, 1e-7, 2e-3}[set]
				assert.InEpsilon(t, 0.01, f.Residuals[0], tolerance)
				assert.InEpsilon(t, c.between, f.Residuals[0]+n*f.Terms[0][0].At(0, 0), tolerance)
			})
		}
	}
}
