package film_test

import (
	"context"
	"math/rand/v2"

	"wane/fit/film"
	"wane/optics"
)

// sessionScene is a kind of made-up sessions: what is wrong with them, and what the fit
// is told of that.
type sessionScene struct {
	name   string
	known  *film.Known // nil: the default
	errors func(rng *rand.Rand) sessionErrors
	misses map[string]string // as of a scene
}

// usualErrors are drawn from what is known beforehand.
func usualErrors(rng *rand.Rand) sessionErrors { return drawErrors(rng, len(fourAngles), true) }

// driftedErrors are those of an instrument far from what is known beforehand: a scale off
// by 3 %, all angles by half a degree, a beam that is partly polarised. The factors of
// the angles are drawn.
func driftedErrors(rng *rand.Rand) sessionErrors {
	e := drawErrors(rng, len(fourAngles), true)
	e.scale, e.share = 0.97, 0.55
	for k := range e.tilts {
		e.tilts[k] = 0.5
	}
	return e
}

// inStudies is what a study takes to be known of a session that has a dark blank: see
// study/evaluate/session.go.
var inStudies = sessionOnly(film.Session{UScale: 0.05, UFactor: 0.01, UAngle: 0.3, UShare: 0.05})

var sessionScenes = []sessionScene{
	{name: "session", errors: usualErrors, known: inStudies},
	{name: "drifted", errors: driftedErrors, known: inStudies},
	{name: "drifted, usual priors", errors: driftedErrors, misses: map[string]string{
		ofSolarT: "a scale three standard deviations off what is taken to be known of single spots; " +
			"part of it is put down to the glass",
		ofGain: "the same: what is put down to the glass is taken for less, or more, to gain over"}},
}

const blanksOfSession, couponsOfSession = 2, 6

var sessionBare = span{0.01, 0.2}

// sessionSimulator simulates and fits sessions: dark blanks and coupons of one glass and
// one coating, of which the last two are looked at. Use one per goroutine.
type sessionSimulator struct {
	sessionScene
	*sunlight
	seed  uint64
	nm    []float64
	setup film.Setup
}

func newSessionSimulator(s sessionScene, seed uint64) (*sessionSimulator, error) {
	setup := film.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: glassSD}, Known: s.known}
	sun, err := newSunlight(setup)
	return &sessionSimulator{s, sun, seed, grid(380, 1100, 4), setup}, err
}

// run simulates session number n. The change is the difference of the two coupons.
func (s *sessionSimulator) run(n int) (outcome, error) {
	rng := rand.New(rand.NewPCG(s.seed, uint64(n)))
	p, e := place{skeleton: drawSkeleton(rng), glass: drawGlass(rng)}, s.errors(rng)
	members, coats := make([]film.Member, blanksOfSession+couponsOfSession), make([]coat, blanksOfSession+couponsOfSession)
	for i := range members {
		m, c := &members[i], &coats[i]
		*m, *c = film.Member{Role: film.RoleBlank, Glass: "float"}, coat{bare: 1}
		if i >= blanksOfSession {
			*c = coat{span{80, 130}.draw(rng), span{0.25, 0.45}.draw(rng), sessionBare.draw(rng)}
			m.Role, m.Coating = film.RoleCoupon, "A"
		}
		curves, err := p.read(rng, *c, &e, s.nm, fourAngles, true)
		if err != nil {
			return outcome{}, err
		}
		m.Spot = &film.Spot{Setup: s.setup, Curves: curves}
	}
	fit, err := film.FitSession(context.Background(), members, 1)
	if err != nil {
		return outcome{}, err
	}
	last := len(members) - 1
	for _, i := range []int{last - 1, last} {
		if err := fit.Spots[i].Err; err != nil {
			return outcome{}, err
		}
	}
	loss0, err := s.loss(&p, coats[last-1])
	if err != nil {
		return outcome{}, err
	}
	truth, err := s.truth(&p, coats[last])
	if err != nil {
		return outcome{}, err
	}
	v := fit.Spots[last].Verdict
	out := outcome{v.Model, claims(v, s.probe, truth, coats[last])}
	d, err := fit.Difference(film.Measurand{Mean: s.probe}, last, last-1)
	out.claims[ofChange] = claim{d.Value - (truth.loss - loss0), d.U, warns(v, "") || warns(fit.Spots[last-1].Verdict, "")}
	return out, err
}
