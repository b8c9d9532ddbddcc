package intake_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// NumPy 1.24.2: the mean of a and np.interp(a_x, b_x, b) at the wavelengths of a
// from 440 on.
func TestOverlapAverages(t *testing.T) {
	s := "nm,%R\n150,3\n350,4\n400,4.2\n450,4.4\n500,4.7\n440,5\n470,5.1\n510,5.4\n560,5.5\n760,6\n"
	export, err := intake.Read("g.txt", []byte(s), text.Stated{Overlap: "average"})
	require.NoError(t, err)
	require.Equal(t, []float64{150, 350, 400, 450, 500, 510, 560, 760}, export.Spectra[0].NM)
	for i, want := range []float64{3, 4, 4.2, 4.716666666666667, 5.0125, 5.4, 5.5, 6} {
		assert.InDelta(t, want/100, export.Spectra[0].Values[i], 1e-16)
	}
}

// Two detectors that read the same curve: whichever way they stand in the file,
// and whatever is done where they overlap, the curve comes out. No point outside
// the overlap is lost.
func TestOverlapOfEqualDetectors(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	line := func(nm int) float64 { return float64(nm) / 64 } // straight, so that interpolation changes nothing
	for range 50 {
		start, turn, back, end := 100, 500+random.IntN(100), 450+random.IntN(50), 1000
		var first, second []string
		for nm := start; nm <= turn; nm += 2 {
			first = append(first, fmt.Sprintf("%d,%v\n", nm, line(nm)))
		}
		for nm := back; nm <= end; nm += 3 {
			second = append(second, fmt.Sprintf("%d,%v\n", nm, line(nm)))
		}
		if random.IntN(2) == 0 {
			first, second = second, first
		}
		words := "nm,%R\n" + strings.Join(first, "") + strings.Join(second, "")
		for _, how := range []string{"first", "average"} {
			export, err := intake.Read("g.txt", []byte(words), text.Stated{Overlap: how})
			require.NoError(t, err, words)
			s := export.Spectra[0]
			assert.GreaterOrEqual(t, len(s.NM), len(first))
			for i, nm := range s.NM {
				require.InDelta(t, line(int(nm))/100, s.Values[i], 1e-15)
				require.True(t, i == 0 || nm > s.NM[i-1])
			}
			assert.Equal(t, float64(start), s.NM[0])
		}
	}
}
