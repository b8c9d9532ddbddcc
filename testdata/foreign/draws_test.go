package foreign

import (
	"math"
	"os/exec"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// The project is not imported: what is checked by this package shares no code with it.
func TestNothingOfTheProjectIsImported(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", ".").Output()
	require.NoError(t, err)
	own := 0
	for line := range strings.Lines(string(out)) {
		if strings.HasPrefix(line, "wane/") {
			assert.Equal(t, "wane/testdata/foreign", strings.TrimSpace(line))
			own++
		}
	}
	assert.Equal(t, 1, own)
}

// What the description of the model knows of every effect, as it prints it: centre and standard
// deviation. Of 20,000 draws the mean lies within five standard errors; the standard deviation
// within 5 % of the law's (its standard error is 0.5 % for normal draws, 1.2 % for v), or within
// what rounding in the description leaves, where it is given.
func TestDrawsHaveTheMomentsOfTheLaw(t *testing.T) {
	law := Prior()
	for _, c := range []struct {
		name                string
		effect              Effect
		mean, sd            float64
		meanRound, sdRounds float64
	}{
		{"scale", law.Scale, 0, 0.01, 0, 0}, {"factor", law.Factor, 0, 0.01, 0, 0}, {"angle", law.AngleDeg, 0, 0.3, 0, 0},
		{"s share", law.SShare, 0, 0.01, 0, 0}, {"native", law.NativeShare, 0, 0.05, 0, 0},
		{"wavelength", law.WavelengthNM, 0, 0.3, 0, 0}, {"zero", law.Zero, 0, 0.0005, 0, 0},
		{"place factor", law.PlaceFactor, 0, 0.002, 0, 0}, {"tilt", law.TiltDeg, 0, 0.05, 0, 0},
		{"place zero", law.PlaceZero, 0, 0.0002, 0, 0}, {"blackened", law.PlaceZeroBlackened, 0, 0.0001, 0, 0},
		{"leak", law.Leak, 0.00016, 0.00012, 5e-6, 5e-6}, {"coupon glass", law.CouponGlass, 0, 0.0005, 0, 0},
		{"float", law.BatchFloat, 0, 0.002, 0, 0}, {"low-iron", law.BatchLowIron, 0, 0.005, 0, 0},
		{"catalogue", law.BatchCatalogue, 0, 0.0005, 0, 0}, {"skeleton", law.Skeleton, 1.458, 0.010, 0, 0},
		{"g", law.Gradient, 0, 0.05, 0, 0}, {"t", law.SkinNM, 4, 3, 0.05, 0.05},
		{"v", law.Variance, 0.0025, 0.0035, 0.00005, 0.00005},
		{"g drift", law.GradientDrift, 0, 0.01, 0, 0}, {"t drift", law.SkinDriftNM, 0, 1, 0, 0},
		{"v drift", law.VarianceDrift, 0, 0.0007, 0, 0},
	} {
		draws := make([]float64, 20000)
		for i := range draws {
			draws[i] = dice{7, uint64(i)}.draw(c.effect, c.name)
		}
		mean, sd := stat.MeanStdDev(draws, nil)
		assert.InDelta(t, c.mean, mean, c.meanRound+5*c.sd/math.Sqrt(20000), c.name)
		assert.InDelta(t, c.sd, sd, c.sdRounds+0.05*c.sd, c.name)
	}
	// Root mean square of the leak: 0.0002, half-normal (mean of one of rms 1: sqrt(2 / pi)).
	assert.InDelta(t, 0.00016, 0.0002*math.Sqrt(2/math.Pi), 5e-7)
}

func TestPhysicalDrawsAreNotNegative(t *testing.T) {
	law := Prior()
	var skins, spreads []float64
	for run := range uint64(5000) {
		d := dice{1, run}
		spot := law.structure(d, "spot")
		reading := spot.drifted(law, d, "spot/0")
		for _, v := range []float64{spot.skin, spot.variance, reading.skin, reading.variance} {
			require.GreaterOrEqual(t, v, 0.0)
		}
		skins, spreads = append(skins, reading.skin), append(spreads, reading.variance)
	}
	// Stopping at zero moves the moments by little: at most 2 % and 5 % of the prior widths.
	assert.InDelta(t, 4, stat.Mean(skins, nil), 0.06+5*3/math.Sqrt(5000))
	assert.InDelta(t, 0.0025, stat.Mean(spreads, nil), 0.05*0.0035+5*0.0035/math.Sqrt(5000))
}

func TestOneEffectDoesNotChangeTheOthers(t *testing.T) {
	scene := SceneNamed("patchy")
	whole, without := scene.Run(Prior(), 3, 11), scene.Run(Prior().Without("zero"), 3, 11)
	assert.NotZero(t, whole.Session.Zero)
	assert.Zero(t, without.Session.Zero)
	for i := range whole.Curves {
		for k := range whole.Curves[i].Reflectance {
			require.InDelta(t, whole.Session.Zero, whole.Curves[i].Reflectance[k]-without.Curves[i].Reflectance[k], 1e-15)
		}
	}
	assert.Equal(t, whole.Truth, without.Truth)
	scaled, plain := scene.Run(Prior().Scaled(2, "tilt"), 3, 11), whole.Placement.TiltDeg
	assert.InDelta(t, 2*plain, scaled.Placement.TiltDeg, 1e-15)
	assert.InDelta(t, 8.0, scene.Run(Prior().Set("skin", 8).Without("skin-drift"), 3, 11).Surface.Skin, 1e-15)
	// With nothing at all, the readings are ideal.
	quiet := Prior().Without()
	quiet.NoiseSD = 0
	spot := scene.Run(quiet, 3, 11)
	for i, c := range spot.Ideal() {
		assert.Equal(t, c.Reflectance, spot.Curves[i].Reflectance)
	}
}

func TestRunsRepeatSideBySide(t *testing.T) {
	plan := StandardPlan()
	plan.Loss = Loss{By: Patching, MeanPP: -0.3, CouponCV: 0.2}
	want := plan.Run(Prior(), 5, 0)
	got := make([]Study, 4)
	var group sync.WaitGroup
	for i := range got {
		group.Go(func() {
			got[i] = plan.Run(Prior(), 5, uint64(i%2))
		})
	}
	group.Wait()
	assert.Equal(t, want, got[0])
	assert.Equal(t, want, got[2])
	assert.Equal(t, got[1], got[3])
	assert.NotEqual(t, got[0].Readings[0].Curves, got[1].Readings[0].Curves)
}

// The law of a curve, put together again from what a run says that it drew.
func TestCurvesFollowTheLaw(t *testing.T) {
	law := Prior()
	law.NoiseSD = 0
	law.JoinStep, law.ZeroSlope = Effect{Centre: 0.001}, Effect{Centre: 0.0004}
	for _, name := range []string{"patchy", "textured", "native", "two-angles", "blank"} {
		s := SceneNamed(name).Run(law, 9, 4)
		require.Len(t, s.Curves, len(s.Setup.AnglesDeg))
		for i, c := range s.Curves {
			angle := math.Abs(c.AngleDeg + s.Session.AngleDeg[i] + s.Placement.TiltDeg)
			require.Len(t, c.Reflectance, 361)
			for k, lambda := range c.WavelengthNM {
				r := s.Surface.at(lambda+s.Session.WavelengthNM, angle, s.Session.SShare)
				r += s.Pane.Leak * (1 - r) * (1 - r)
				if name == "textured" {
					rough := 4 * math.Pi * s.Pane.RoughnessNM * math.Cos(angle*math.Pi/180) / lambda
					r *= s.Session.Facet[i] * math.Exp(-rough*rough)
				}
				want := s.Session.Scale*s.Session.Factor[i]*s.Placement.Factor[i]*r + s.Session.Zero + s.Placement.Zero +
					0.0004*(lambda-740)/360
				if lambda > s.Session.JoinNM {
					want += 0.001
				}
				require.InDelta(t, want, c.Reflectance[k], 1e-7, "%s, %g nm, %g degrees", name, lambda, c.AngleDeg)
			}
		}
	}
}

// White noise has the standard deviation that it says, and so does its estimate from second
// differences (1.4826 is 1 / 0.6745, the quartile of a normal distribution); noise that hangs
// together has the same, a correlation of 1/e at its length, and a smaller estimate.
func TestNoise(t *testing.T) {
	values := make([]float64, 100000)
	static{sd: 0.0003}.addTo(values, dice{1, 1}.stream("noise"))
	assert.InDelta(t, 0.0003, stat.StdDev(values, nil), 0.0003*0.012) // five standard errors
	assert.InDelta(t, 0.0003, roughNoise(values), 0.0003*0.03)
	assert.InDelta(t, 0, stat.Correlation(values[1:], values[:len(values)-1], nil), 0.016)

	clear(values)
	static{sd: 0.0003, length: 5}.addTo(values, dice{1, 2}.stream("noise"))
	assert.InDelta(t, 0.0003, stat.StdDev(values, nil), 0.0003*0.03)
	assert.InDelta(t, math.Exp(-1), stat.Correlation(values[5:], values[:len(values)-5], nil), 0.03)
	assert.Less(t, roughNoise(values), 0.0002)

	c := SceneNamed("fresh").Run(Prior(), 1, 1).Curves[0]
	assert.InDelta(t, 0.0003, c.NoiseMAD, 0.0001)
	assert.InDelta(t, 0.0003, c.NoiseSD, 1e-15)
}

func TestFaultsGoBeyondTheLaw(t *testing.T) {
	scene := SceneNamed("fresh")
	for _, fault := range Faults() {
		law := Prior().Beyond(fault)
		assert.NotEqual(t, Prior(), law, fault)
		spot := scene.Run(law, 2, 3)
		if fault != "leached-dark-blank" { // the fault of a study
			assert.NotEqual(t, scene.Run(Prior(), 2, 3).Curves, spot.Curves, fault)
		}
	}
	assert.InDelta(t, 0.0005, math.Abs(scene.Run(Prior().Beyond("zero"), 2, 3).Session.Zero), 1e-15)
	plain, glass := scene.Run(Prior(), 2, 3), scene.Run(Prior().Beyond("glass"), 2, 3)
	assert.InDelta(t, 0.01, glass.Pane.GlassShift-plain.Pane.GlassShift, 1e-15)
	residue := scene.Run(Prior().Beyond("residue"), 2, 3).Truth
	assert.Greater(t, residue.SolarLossless-residue.SolarT, 0.003)
}

func TestScenesAreWhatTheyAreCalled(t *testing.T) {
	for _, sc := range Scenes() {
		for run := range uint64(20) {
			s := sc.Run(Prior(), 1, run)
			switch sc.Name {
			case "thin":
				assert.True(t, s.Surface.Thickness >= 30 && s.Surface.Thickness <= 60)
			case "patchy":
				assert.GreaterOrEqual(t, s.Surface.Bare, 0.05)
			case "blank":
				assert.InDelta(t, 0, s.Truth.GainPP, 1e-12)
				assert.InDelta(t, 0, s.Truth.MaterialLeftNM, 1e-12)
			case "thinned":
				assert.Less(t, s.Surface.Thickness, 0.9*108)
			}
			assert.True(t, s.Truth.SolarT > 0.94 && s.Truth.SolarT < 1, "%s: %g", sc.Name, s.Truth.SolarT)
			assert.InDelta(t, s.Truth.SolarT, s.Truth.SolarLossless, 1e-12)
		}
	}
}

// A spot set down again keeps session, coupon and surface.
func TestRemount(t *testing.T) {
	scene := SceneNamed("fresh")
	series := scene.Remount(Prior(), 1, 2, 40)
	var tilts []float64
	for _, s := range series {
		assert.Equal(t, series[0].Session, s.Session)
		assert.Equal(t, series[0].Pane, s.Pane)
		assert.Equal(t, series[0].Surface, s.Surface)
		tilts = append(tilts, s.Placement.TiltDeg)
	}
	assert.Equal(t, scene.Run(Prior(), 1, 2), series[0])
	assert.InDelta(t, 0.05, stat.StdDev(tilts, nil), 0.05*0.56) // five standard errors
}

func BenchmarkSpot(b *testing.B) {
	scene, law := SceneNamed("patchy"), Prior()
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		scene.Run(law, 1, uint64(i))
	}
}

func BenchmarkStudy(b *testing.B) {
	for name, plan := range map[string]Plan{"unchanged": StandardPlan(), "groups": GroupPlan()} {
		b.Run(name, func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				plan.Run(Prior(), 1, uint64(i))
			}
		})
	}
}

func BenchmarkTrial(b *testing.B) {
	trial := StandardTrial()
	for i := 0; b.Loop(); i++ {
		trial.Run(Prior(), 1, uint64(i))
	}
}
