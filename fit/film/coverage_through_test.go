package film_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/testdata/foreign"
)

// uPane is the standard uncertainty of the absorbance of float glass over its table, as a ratio.
const uPane = 0.25

// paneSetup is a pane of 3.2 mm with a bare far face, read in reflectance at some angles and in transmittance at normal
// incidence.
func paneSetup(anglesDeg ...float64) foreign.Setup {
	u := foreign.Standard()
	u.AnglesDeg, u.Back, u.ThroughDeg = anglesDeg, "bare", []float64{0}
	return u
}

// throughRun fits a run of one spot, of which the curves that are wanted are read. With byBlank the absorption of the
// pane is known by a blank that was read in the same session.
func throughRun(sc foreign.Scene, law foreign.Law, seed, n uint64, byBlank bool, wanted func(foreign.Curve) bool) (outcome,
	error) {
	spot := sc.Run(law, seed, n)
	setup := film.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: floatU, ThicknessMM: sc.Setup.GlassMM, Back: optics.Bare,
		ULoss: uPane}}
	if byBlank {
		blank := spot.Blank[0]
		b, err := film.NewBlank(setup.Glass.Index, blank.WavelengthNM, blank.Reflectance, blank.AngleDeg)
		if err != nil {
			return outcome{}, err
		}
		known := film.DefaultKnown(setup.Glass.Back)
		known.Session.UThroughScale = known.Placement.UThrough // of the blank: the scale of the session cancels
		setup.Glass.Blank, setup.Known = b, &known
	}
	r := &reader{setup: setup, fitter: film.NewFitter(setup)}
	var err error
	if r.sun, err = probeOf(setup, 2500, solar.Energy); err != nil {
		return outcome{}, err
	}
	if r.cell, err = probeOf(setup, 1200, solar.Photon); err != nil {
		return outcome{}, err
	}
	var curves []foreign.Curve
	for _, c := range spot.Curves {
		if wanted(c) {
			curves = append(curves, c)
		}
	}
	v, err := r.fitter.Fit(context.Background(), spotOf(setup, curves))
	if err != nil {
		return outcome{}, err
	}
	o := outcome{v.Model, v.Flags, r.claims(v, spot.Truth)}
	if a := v.Absorbed(r.sun); !math.IsNaN(a.Value) {
		o.claims[ofAbsorbed] = claim{off: a.Value - (spot.Truth.SolarLossless - spot.Truth.SolarT), u: a.U}
	}
	return o, nil
}

// absorbingLaw is the law of films that absorb under residues that do: half-normal, as they are taken to be. The
// residue is thin and dark, 1.2 nm rms of index 1.7 + 0.5i.
func absorbingLaw(n uint64) foreign.Law {
	law := foreign.Prior()
	law.FilmK = foreign.Effect{Shape: foreign.HalfNormal, Width: 0.002}
	law.ResidueNM, law.ResidueIndex = 1.2*math.Abs(rand.New(rand.NewPCG(n, 7)).NormFloat64()), 1.7+0.5i
	return law
}

// ofAbsorbed is the share of sunlight that film and residue absorb.
const ofAbsorbed = "absorbed"

// throughScene is a kind of spot of which transmittance is read.
type throughScene struct {
	name       string
	law        func(n uint64) foreign.Law
	anglesDeg  []float64 // of reflectance
	byBlank    bool      // the absorption of the pane is known by a blank of the session
	wanted     func(foreign.Curve) bool
	quantities []string
	long       bool // made where WANE_LONG is set only
}

func throughScenes() []throughScene {
	prior := func(uint64) foreign.Law { return foreign.Prior() }
	residue := func(uint64) foreign.Law { return foreign.Prior().Beyond("residue") }
	all := func(foreign.Curve) bool { return true }
	through := func(c foreign.Curve) bool { return c.Through }
	four, two, solar := []float64{8, 30, 45, 60}, []float64{8, 60}, []string{ofSolarT, ofCellT, ofGain, ofAbsorbed}
	return []throughScene{
		{"R at 8, 60, T, blank", absorbingLaw, two, true, all, solar, false},
		{"residue, R at 8, 60, T", residue, two, false, all, nil, false},
		{"R at 4 angles, T", absorbingLaw, four, false, all, solar, true},
		{"R at 4 angles, T, blank", absorbingLaw, four, true, all, solar, true},
		{"T alone, blank", absorbingLaw, two, true, through, solar, true},
		{"clear, R at 4 angles, T", prior, four, true, all, nil, true},
		{"residue, R at 4, T", residue, four, false, all, nil, true},
		{"residue, R at 4, T, bl.", residue, four, true, all, nil, true},
	}
}

// The intervals of spots of which transmittance is read too contain the truth: of films that absorb under residues,
// by the law, and beyond it of clear films and of a residue of 3 nm with k 0.05, which by reflectance alone reads as
// a gain of 0.36 pp; the simulator shares no optics with the program.
//
// A short run makes few runs of two scenes, so that the limits of each scene find gross faults only. The solar_T of
// its 12 runs together has an rms z of at most 1.66, which normal errors exceed once in 1,000 times: intervals that are
// half as wide as they should be are found with a probability of 77 %, of a third with 99 %, of two thirds with 26 %.
// Finer faults, and intervals that are too wide, are left to the long run.
func TestCoverageOfTransmittance(t *testing.T) {
	var table strings.Builder
	pooled := line{scene: together, what: ofSolarT}
	for i, c := range throughScenes() {
		if c.long && runs(0) == 0 {
			continue
		}
		sc := foreign.SceneNamed("patchy")
		sc.Setup = paneSetup(c.anglesDeg...)
		seed := uint64(3000 + i)
		found, err := simulate([2]*reader{{}, {}}, min(runs(shortThrough), longThrough), func(_ *reader, n uint64) (outcome, error) {
			return throughRun(sc, c.law(n), seed, n, c.byBlank, c.wanted)
		})
		require.NoError(t, err)
		mean := lineOf(c.name, ofSolarT, found, false)
		pooled.add(&mean)
		for _, what := range c.quantities {
			l := lineOf(c.name, what, found, false)
			fmt.Fprintln(&table, &l)
			l.check(t)
		}
		if len(c.quantities) == 0 {
			l := lineOf(c.name, ofSolarT, found, true)
			fmt.Fprintln(&table, &l)
			least, _ := binomialLimits(leastBeyond, len(found))
			assert.GreaterOrEqual(t, l.share(), least, "%s: solar_T", c.name)
		}
	}
	fmt.Fprintln(&table, &pooled)
	t.Logf("\n%s\n%s", lineHead, table.String())
	if n := pooled.counted; runs(0) == 0 {
		require.Equal(t, 2*shortThrough, n, "each run states solar_T")
		assert.LessOrEqual(t, pooled.squares, distuv.ChiSquared{K: float64(n)}.Quantile(0.999), "rms z %.2f", pooled.rms())
	}
}

// How many runs of each scene .ci/run makes, and at most a long run: a fit with transmittance takes 0.3 s.
const shortThrough, longThrough = 6, 300
