package optics_test

import (
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// A sheet is a residue in the limit of no thickness: against the general stack with a residue of 0.0002 nm, whose own
// phase is 2e-6; the light that gets through is the same from both sides, and the derivative is that of differences.
func TestAbsorbingUnderAThinResidue(t *testing.T) {
	const sheet, thin = 0.51, 0.0002
	nm, eps := []float64{400, 600, 900}, []complex128{1.62 + 0.03i, 1.6 + 0.02i, 1.59 + 0.01i}
	glass := optics.Constant("glass", 1.52)
	residue := optics.Constant("residue", cmplx.Sqrt(complex(1, sheet/thin)))
	for _, angle := range []float64{0, 20} {
		face, err := optics.NewSurface(nm, angle, glass)
		require.NoError(t, err)
		face.Set(angle, 0)
		all := func(sheetNM float64) [2]optics.AbsorbingResponse {
			out := [2]optics.AbsorbingResponse{optics.NewAbsorbingResponse(3), optics.NewAbsorbingResponse(3)}
			face.AbsorbingUnder(out[0], out[1], 118, eps, sheetNM)
			return out
		}
		got, up, down := all(sheet), all(sheet+1e-4), all(sheet-1e-4)
		for q, pol := range []optics.Polarisation{optics.S, optics.P} {
			for i := range nm {
				films := []optics.Film{{Index: residue, ThicknessNM: thin},
					{Index: optics.Constant("film", cmplx.Sqrt(eps[i])), ThicknessNM: 118}}
				r, through, err := optics.Stack{Films: films, Substrate: glass}.RT(nil, nil, nm[i:i+1], angle, pol)
				require.NoError(t, err)
				assert.InDelta(t, r[0], got[q].R.Value[i], 3e-6, "R, %g nm, %g degrees, s share %g", nm[i], angle, float64(pol))
				assert.InDelta(t, through[0], got[q].T.Value[i], 3e-6, "T")
				assert.InDelta(t, got[q].T.Value[i], got[q].InsideT.Value[i], 1e-14, "from inside")
				for k, of := range []struct{ got, up, down optics.Slopes }{{got[q].R, up[q].R, down[q].R},
					{got[q].T, up[q].T, down[q].T}, {got[q].Inside, up[q].Inside, down[q].Inside},
					{got[q].InsideT, up[q].InsideT, down[q].InsideT}} {
					want := (of.up.Value[i] - of.down.Value[i]) / 2e-4
					assert.InDelta(t, want, of.got.DSheet[i], 1e-9, "derivative of quantity %d", k)
				}
			}
		}
	}
}
