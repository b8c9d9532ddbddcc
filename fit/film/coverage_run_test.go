package film_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"sync/atomic"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
)

// claim is one interval of one run: the error of the value, its standard uncertainty,
// and whether the verdict warns of it.
type claim struct {
	off, u float64
	warned bool
}

// outcome is what one run gave: the model called, and claims by quantity.
type outcome struct {
	model  string
	claims map[string]claim
}

// The quantities of the table, in its order.
const (
	ofSolarT = "solar_T"
	ofGain   = "gain"
	ofChange = "change"
	ofSolid  = "material left"
)

var claimed = []string{ofSolarT, ofGain, ofChange, ofSolid, film.Thickness, film.Porosity, film.Bare}

// sunlight takes the truth of solar_T, on the wavelengths and with the weights that
// studies use: every row of the solar spectrum from 300 to 2500 nm.
type sunlight struct {
	nm, w []float64
	probe *film.Probe // of the glass as it is in the books
}

func newSunlight(setup film.Setup) (*sunlight, error) {
	s := &sunlight{nm: solar.Grid(300, 2500)}
	var err error
	if s.w, _, err = solar.Weights(s.nm, 300, 2500, solar.Energy); err != nil {
		return nil, err
	}
	s.probe, err = film.NewProbe(s.nm, s.w, 0, optics.U, setup.Glass.Index, setup.Coating)
	return s, err
}

// truly is the truth of a film: the weighted reflectance of the true front surface,
// 1 - solar_T, and by how much less that is than without the film.
type truly struct{ loss, gain float64 }

// truth returns that of the film c on p.
func (s *sunlight) truth(p *place, c coat) (t truly, err error) {
	if t.loss, err = s.loss(p, c); err != nil {
		return t, err
	}
	bare, err := s.loss(p, coat{bare: 1})
	t.gain = bare - t.loss
	return t, err
}

// loss is the weighted reflectance of the true front surface.
func (s *sunlight) loss(p *place, c coat) (sum float64, err error) {
	r, err := p.front(c, s.nm, 0, optics.U)
	for i := range r {
		sum += s.w[i] * r[i]
	}
	return sum, err
}

// simulator simulates and fits spots of one scene. Use one per goroutine.
type simulator struct {
	scene
	*sunlight
	seed   uint64
	nm     []float64
	fitter *film.Fitter
}

func newSimulator(s scene, seed uint64) (*simulator, error) {
	sun, err := newSunlight(s.setup())
	return &simulator{s, sun, seed, grid(380, 1100, 2), film.NewFitter(s.setup())}, err
}

// fit reads and fits p under c in a session of its own, and returns the truth of what
// its mean and its gain estimate too.
func (s *simulator) fit(rng *rand.Rand, p *place, c coat) (v *film.Verdict, truth truly, err error) {
	e := drawErrors(rng, len(s.angles), s.native)
	curves, err := p.read(rng, c, &e, s.nm, s.angles, s.native)
	if err != nil {
		return nil, truth, err
	}
	if v, err = s.fitter.Fit(context.Background(), &film.Spot{Setup: s.setup(), Curves: curves}); err != nil {
		return nil, truth, err
	}
	truth, err = s.truth(p, c)
	return v, truth, err
}

// run simulates run number n: a spot at two pulls.
func (s *simulator) run(n int) (outcome, error) {
	rng := rand.New(rand.NewPCG(s.seed, uint64(n)))
	p, before, now := s.draw(rng)
	v0, truth0, err := s.fit(rng, &p, before)
	if err != nil {
		return outcome{}, err
	}
	mean0 := v0.Mean(s.probe) // before the fitter works again
	errors0, err := v0.Errors(film.Measurand{Mean: s.probe})
	if err != nil {
		return outcome{}, err
	}
	v, truth, err := s.fit(rng, &p, now)
	if err != nil {
		return outcome{}, err
	}
	mean := v.Mean(s.probe)
	out := outcome{v.Model, claims(v, s.probe, truth, now)}
	errors, err := v.Errors(film.Measurand{Mean: s.probe})
	if err != nil {
		return outcome{}, err
	}
	// as results have it: what comes from skeleton and glass counts once
	shared := sharedBy(errors, errors0, 0, film.OwnerCoating, film.OwnerBatch)
	out.claims[ofChange] = claim{(mean.Value - mean0.Value) - (truth.loss - truth0.loss),
		math.Sqrt(max(0, mean.U*mean.U+mean0.U*mean0.U-2*shared)), warns(v, "") || warns(v0, "")}
	return out, nil
}

// claims are those of a verdict on a film.
func claims(v *film.Verdict, probe *film.Probe, truth truly, c coat) map[string]claim {
	of := func(e film.Estimate, truth float64, name string) claim {
		return claim{e.Value - truth, e.U, warns(v, name)}
	}
	return map[string]claim{
		ofSolarT:       of(v.Mean(probe), truth.loss, ""),
		ofGain:         of(v.Gain(probe), truth.gain, ""),
		ofSolid:        of(v.SolidNM, c.solid(), ""),
		film.Thickness: of(v.ThicknessNM, c.thickness, film.Thickness),
		film.Porosity:  of(v.Porosity, c.porosity, film.Porosity),
		film.Bare:      of(v.Bare, c.bare, film.Bare),
	}
}

// warns reports whether v warns of the quantity called name, or of the whole fit.
func warns(v *film.Verdict, name string) bool {
	for _, f := range v.Flags {
		if f == "not-converged" || f == "poor-fit" || name != "" && f == film.FlagNotSeparable+name {
			return true
		}
	}
	return false
}

// simulate makes n runs on two goroutines, each with a simulator of its own. A run
// draws from a source of its own, so that it is the same whoever makes it.
func simulate(n int, simulator func() (run func(n int) (outcome, error), err error)) ([]outcome, error) {
	out, faults := make([]outcome, n), make([]error, n)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range 2 {
		run, err := simulator()
		if err != nil {
			return nil, err
		}
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				out[i], faults[i] = run(i)
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
