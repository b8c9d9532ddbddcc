package film_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"sync/atomic"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/testdata/foreign"
)

// claim is one interval of one run: the error of the value and its standard uncertainty, and whether the verdict says
// that the curves do not determine the quantity.
type claim struct {
	off, u       float64
	notSeparable bool
}

// covers reports whether the 95 % interval of c contains the truth.
func (c claim) covers() bool { return math.Abs(c.off) <= 1.959964*c.u }

// outcome is what one run gave: the model called, the flags, and claims by quantity.
type outcome struct {
	model  string
	flags  []string
	claims map[string]claim
}

// hasFlag reports whether the verdict has the flag of a word; one that ends in a colon stands for all that begin so.
func (o *outcome) hasFlag(word string) bool {
	for _, f := range o.flags {
		if f == word || strings.HasSuffix(word, ":") && strings.HasPrefix(f, word) {
			return true
		}
	}
	return false
}

// faulted reports whether the verdict warns that the readings are not those of the law. The flag structure does not.
func (o *outcome) faulted() bool {
	return o.hasFlag("misfit") || o.hasFlag("poor-fit") || o.hasFlag("unlikely:") || o.hasFlag("not-converged")
}

// The quantities of the tables. Shares and reflectances are fractions, lengths in nm.
const (
	ofSolarT      = "solar_T"
	ofCellT       = "cell_T"
	ofGain        = "gain"
	ofSolid       = "material left"
	ofSameSession = "no change, one session"
	ofUnchanged   = "no change"
	ofChanged     = "change"
)

// floatU is the standard uncertainty of the index of float glass that the law states.
const floatU = 0.002

// reader fits the readings of one set-up. Use one per goroutine.
type reader struct {
	setup     film.Setup
	fitter    *film.Fitter
	sun, cell *film.Probe
}

func newReader(u foreign.Setup) (*reader, error) {
	r := &reader{setup: setupOf(u)}
	r.fitter = film.NewFitter(r.setup)
	var err error
	if r.sun, err = probeOf(r.setup, 2500, solar.Energy); err != nil {
		return nil, err
	}
	r.cell, err = probeOf(r.setup, 1200, solar.Photon)
	return r, err
}

// setupOf is what the program is told of a set-up; all that it takes to be known is its default.
func setupOf(u foreign.Setup) film.Setup {
	return film.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: floatU}, Texture: u.Textured}
}

// probeOf is that of solar means from 300 nm to hi, on the rows of the solar spectrum as studies use them.
func probeOf(setup film.Setup, hi float64, by solar.Weighting) (*film.Probe, error) {
	nm := solar.Grid(300, hi)
	w, _, err := solar.Weights(nm, 300, hi, by)
	if err != nil {
		return nil, err
	}
	return film.NewProbe(nm, w, 0, optics.U, setup.Glass.Index, setup.Coating)
}

// spotOf is what the program reads of curves.
func spotOf(setup film.Setup, curves []foreign.Curve) *film.Spot {
	s := &film.Spot{Setup: setup}
	for i := range curves {
		c := &curves[i]
		s.Curves = append(s.Curves, film.Curve{NM: c.WavelengthNM, R: c.Reflectance, AngleDeg: c.AngleDeg, Pol: optics.U,
			Native: c.Polarisation == "n", Through: c.Through})
	}
	return s
}

func (r *reader) fit(curves []foreign.Curve) (*film.Verdict, error) {
	return r.fitter.Fit(context.Background(), spotOf(r.setup, curves))
}

// claims are those of one reading.
func (r *reader) claims(v *film.Verdict, truth foreign.Truth) map[string]claim {
	of := func(e film.Estimate, truth float64) claim { return claim{off: e.Value - truth, u: e.U} }
	c := map[string]claim{
		ofSolarT: of(v.Mean(r.sun), 1-truth.SolarT),
		ofCellT:  of(v.Mean(r.cell), 1-truth.CellT),
		ofGain:   of(v.Gain(r.sun), truth.GainPP/100),
		ofSolid:  of(v.SolidNM, truth.MaterialLeftNM),
	}
	return c
}

// errorsOf is the mean of a verdict with what its error is made of.
func (r *reader) errorsOf(v *film.Verdict) (value float64, e *film.Errors, err error) {
	e, err = v.Errors(film.Measurand{Mean: r.sun})
	return v.Mean(r.sun).Value, e, err
}

// changeOf is the claim of the change of the mean between two readings of one spot, which share all that outlives a
// session, and the session too if it is one.
func (r *reader) changeOf(before, after []foreign.Curve, truth float64, oneSession bool) (claim, error) {
	v, err := r.fit(before)
	if err != nil {
		return claim{}, err
	}
	value0, errors0, err := r.errorsOf(v) // before the fitter works again
	if err != nil {
		return claim{}, err
	}
	if v, err = r.fit(after); err != nil {
		return claim{}, err
	}
	value1, errors1, err := r.errorsOf(v)
	if err != nil {
		return claim{}, err
	}
	shared := []film.Owner{film.OwnerCoating, film.OwnerBatch, film.OwnerCoupon, film.OwnerSpot}
	if oneSession {
		shared = append(shared, film.OwnerSession)
	}
	return claim{off: value1 - value0 - truth, u: math.Sqrt(varianceOf(errors0) + varianceOf(errors1) -
		2*sharedBy(errors0, errors1, 0, shared...))}, nil
}

// varianceOf is that of the first quantity of e.
func varianceOf(e *film.Errors) float64 {
	sum := e.Own.At(0, 0)
	for i := range e.Effects {
		sum += e.By.At(i, 0) * e.By.At(i, 0)
	}
	return sum
}

// addEquivalent adds the claims of the equivalent uniform film. Their truth is by definition what the same uniform
// fit finds in the curves of the spot without noise and without errors, weighted alike, where glass and skeleton are
// as expected.
func (r *reader) addEquivalent(o *outcome, v *film.Verdict, ideal foreign.Spot) error {
	setup := r.setup
	setup.Glass.Index = setup.Glass.Index.Shifted(ideal.Pane.GlassShift)
	setup.Coating.Skeleton, setup.Coating.USkeleton = ideal.Pane.Skeleton, foreign.Prior().Skeleton.Width
	known := film.DefaultKnown(setup.Glass.Back)
	known.Coupon.Leak = 0
	setup.Known = &known
	equal, err := v.Equivalent(context.Background(), spotOf(setup, ideal.Curves))
	if err != nil {
		return err
	}
	for _, q := range []struct {
		name         string
		found, truth film.Estimate
	}{
		{film.Thickness, v.ThicknessNM, equal.ThicknessNM}, {film.Porosity, v.Porosity, equal.Porosity},
		{film.Bare, v.Bare, equal.Bare}, {film.OpticalThickness, v.OpticalThicknessNM, equal.OpticalThicknessNM},
		{film.FilmIndex, v.Index, equal.Index},
	} {
		o.claims[q.name] = claim{q.found.Value - q.truth.Value, q.found.U, o.hasFlag(film.FlagNotSeparable + q.name)}
	}
	return nil
}

// idealised is the law without noise and without errors of session, placement and leak, but for the polarisation of the
// beam, which belongs to the set-up as its angles do: on it hangs which uniform film reflects most alike. Its spots are
// those of the law, as foreign.Spot.Ideal reads them, but through their facets and in that beam.
func idealised(law foreign.Law) foreign.Law {
	law = law.Without("scale", "factor", "angle", "wavelength", "zero", "zero-slope", "join",
		"place-factor", "tilt", "place-zero", "place-zero-blackened", "leak")
	law.NoiseSD = 0
	return law
}

// spotRun makes a run of one reading of a spot of a scene.
func spotRun(r *reader, sc foreign.Scene, law foreign.Law, seed, n uint64, equivalent bool) (outcome, error) {
	spot := sc.Run(law, seed, n)
	v, err := r.fit(spot.Curves)
	if err != nil {
		return outcome{}, err
	}
	o := outcome{v.Model, v.Flags, r.claims(v, spot.Truth)}
	if equivalent && v.Model == film.ModelFilm && !sc.Blank {
		err = r.addEquivalent(&o, v, sc.Run(idealised(law), seed, n))
	}
	return o, err
}

// changeRun makes a run of two readings of a spot of a scene: unchanged in one session, unchanged in two, changed in
// two.
func changeRun(r *reader, sc foreign.Scene, law foreign.Law, seed, n uint64) (o outcome, err error) {
	o.claims = map[string]claim{}
	twice := sc.Remount(law, seed, n, 2)
	if o.claims[ofSameSession], err = r.changeOf(twice[0].Curves, twice[1].Curves, 0, true); err != nil {
		return o, err
	}
	for what, lossPP := range map[string]float64{ofUnchanged: 0, ofChanged: -0.3} {
		if sc.Blank && lossPP != 0 {
			continue
		}
		study := planOf(sc, lossPP).Run(law, seed, n)
		before, after := study.Readings[0], study.Readings[1]
		o.claims[what], err = r.changeOf(before.Curves, after.Curves, before.Truth.SolarT-after.Truth.SolarT, false)
		if err != nil {
			return o, err
		}
	}
	return o, nil
}

// planOf is a study of one spot of a scene at two pulls, of which the second has lost so much solar transmittance, in
// pp, by a thinner film.
func planOf(sc foreign.Scene, lossPP float64) foreign.Plan {
	p := foreign.Plan{Setup: sc.Setup, Glass: sc.Glass, Suppliers: 1, Lots: 1, Pulls: 1,
		Film: foreign.Film{ThicknessNM: sc.ThicknessNM, Porosity: sc.Porosity, BareEffect: sc.BareEffect},
		Loss: foreign.Loss{By: foreign.Thinning, MeanPP: lossPP}}
	if sc.Blank {
		p.Blanks = 1
	} else {
		p.Coupons, p.Spots = 1, 1
	}
	return p
}

// readers are kept by set-up, two of each.
type readers map[string][2]*reader

// of returns those of a set-up.
func (k readers) of(u foreign.Setup) (two [2]*reader, err error) {
	key := fmt.Sprint(u.AnglesDeg, u.Polarisation, u.Textured)
	if two, ok := k[key]; ok {
		return two, nil
	}
	for i := range two {
		if two[i], err = newReader(u); err != nil {
			return two, err
		}
	}
	k[key] = two
	return two, nil
}

// simulate makes n runs on two goroutines, each with a reader of its own. Runs do not hang on who makes them.
func simulate(two [2]*reader, n int, run func(r *reader, n uint64) (outcome, error)) ([]outcome, error) {
	out, faults := make([]outcome, n), make([]error, n)
	var next atomic.Int64
	var wait sync.WaitGroup
	for _, r := range two {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				out[i], faults[i] = run(r, uint64(i))
			}
		})
	}
	wait.Wait()
	for i, err := range faults {
		if err != nil {
			return nil, fmt.Errorf("run %d: %w", i, err)
		}
	}
	return out, nil
}
