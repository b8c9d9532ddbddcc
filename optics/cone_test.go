package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

type vector [3]float64

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (a vector) cross(b vector) vector {
	return vector{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func (a vector) plus(x float64, b vector) vector {
	return vector{a[0] + x*b[0], a[1] + x*b[1], a[2] + x*b[2]}
}

// turnedTo turns v by the smallest turn that takes the direction from to the direction
// to (Rodrigues).
func (v vector) turnedTo(from, to vector) vector {
	axis := from.cross(to)
	sin2, cos := axis.dot(axis), from.dot(to)
	if sin2 == 0 {
		return v
	}
	out := vector{}.plus(cos, v).plus(1, axis.cross(v))
	return out.plus(axis.dot(v)*(1-cos)/sin2, axis)
}

// bruteCone sums what a cone of light polarised on its axis reflects over some 10000
// rays: the electric field is a vector, turned with the ray, and taken apart into the
// ray's own s and p.
func bruteCone(t *testing.T, face *optics.Surface, angle, half float64, isS bool, d float64, eps []float64) float64 {
	t.Helper()
	sin, cos := math.Sincos(angle * deg)
	axis, normal := vector{sin, 0, cos}, vector{0, 0, 1}
	e1, e2 := vector{cos, 0, -sin}, vector{0, 1, 0}
	field := e1
	if isS {
		field = e2
	}
	s, p := optics.NewFilmResponse(1), optics.NewFilmResponse(1)
	const rings, spokes = 60, 180
	sum := 0.0
	for i := range rings {
		alpha := half * deg * math.Sqrt((float64(i)+0.5)/rings) // rings of one area each
		for j := range spokes {
			sinP, cosP := math.Sincos(2 * math.Pi * (float64(j) + 0.5) / spokes)
			k := vector{}.plus(math.Cos(alpha), axis).plus(math.Sin(alpha)*cosP, e1).plus(math.Sin(alpha)*sinP, e2)
			e := field.turnedTo(axis, k)
			local := normal.cross(k)
			share := math.Pow(local.dot(e), 2) / local.dot(local)
			face.Set(math.Acos(k.dot(normal))/deg, 0)
			face.Film(s, p, d, eps)
			sum += share*s.R[0] + (1-share)*p.R[0]
		}
	}
	return sum / (rings * spokes)
}

// What a cone reflects, against a sum over many rays whose field is turned as a
// vector; the turn of the planes counts up to 5e-4 at 45 and 60 degrees.
func TestConeAgainstManyRays(t *testing.T) {
	face, err := optics.NewSurface([]float64{550}, 8, medium(1.52))
	require.NoError(t, err)
	s, p := optics.NewFilmResponse(1), optics.NewFilmResponse(1)
	most := 0.0
	for _, film := range []struct{ d, eps float64 }{{118, 1.69}, {0, 1.69}} {
		eps := []float64{film.eps}
		for _, half := range []float64{2, 6} {
			for _, angle := range []float64{0, 8, 30, 45, 60} {
				var inS, inP, unturned float64
				for _, ray := range optics.Cone(nil, angle, half) {
					face.Set(ray.AngleDeg, 0)
					face.Film(s, p, film.d, eps)
					inS += ray.Weight * ((1-ray.Turned)*s.R[0] + ray.Turned*p.R[0])
					inP += ray.Weight * ((1-ray.Turned)*p.R[0] + ray.Turned*s.R[0])
					unturned += ray.Weight * s.R[0]
				}
				most = max(most, math.Abs(unturned-inS))
				wantS := bruteCone(t, face, angle, half, true, film.d, eps)
				wantP := bruteCone(t, face, angle, half, false, film.d, eps)
				assert.InDelta(t, wantS, inS, 2e-6, "s, %g°, cone %g°", angle, half)
				assert.InDelta(t, wantP, inP, 2e-6, "p, %g°, cone %g°", angle, half)
			}
		}
	}
	assert.Greater(t, most, 1e-4, "the turn counts")
	assert.Less(t, most, 5e-4)
}

func TestConeDerivatives(t *testing.T) {
	const h = 1e-4
	for _, angle := range []float64{0.5, 8, 45, 70} {
		up, lo := optics.Cone(nil, angle+h, 5), optics.Cone(nil, angle-h, 5)
		weight := 0.0
		for i, ray := range optics.Cone(nil, angle, 5) {
			weight += ray.Weight
			assert.InDelta(t, (up[i].AngleDeg-lo[i].AngleDeg)/(2*h), ray.DAngle, 1e-7, "ray %d at %g°", i, angle)
			assert.InDelta(t, (up[i].Turned-lo[i].Turned)/(2*h), ray.DTurned, 1e-7, "ray %d at %g°", i, angle)
		}
		assert.InDelta(t, 1, weight, 1e-15)
	}
	assert.Equal(t, []optics.Ray{{AngleDeg: 45, DAngle: 1, Weight: 1}}, optics.Cone(nil, 45, 0))
	on := optics.Cone(nil, 5*math.Sqrt(2./3), 5)[4] // the ray along the normal
	assert.Less(t, on.AngleDeg, 1e-5)
}
