package foreign

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
)

// Setup says how curves are taken.
type Setup struct {
	Band         *Band
	AnglesDeg    []float64
	Polarisation string // s, p, u (a beam called u), mean (of an s and a p scan), n (native beam)
	Back         string // matched, blackened, bare or coated
	GlassMM      float64
	ThroughDeg   []float64 // angles at which the transmittance of the pane is read too
	Textured     bool      // facets and roughness take light off specular readings
	ConeDeg      float64   // half-angle of a round, evenly filled cone of light; 0 is a parallel beam
}

// Standard is the set-up of most scenes: 361 points from 380 to 1100 nm at 8, 30, 45 and 60
// degrees with a beam called u on a matched far face.
func Standard() Setup {
	return Setup{Band: standardBand, AnglesDeg: []float64{8, 30, 45, 60}, Polarisation: "u", Back: "matched", GlassMM: 3.2}
}

var standardBand = NewBand(380, 1100, 361)

// Session is what one sitting at the instrument adds; slices go with the angles of the set-up.
type Session struct {
	Scale, SShare, WavelengthNM, Zero, ZeroSlope float64
	JoinStep, JoinNM                             float64
	Factor, AngleDeg, Capture, Facet             []float64
	Through                                      ThroughSession
}

// Placement is what setting down one coupon for one spot adds.
type Placement struct {
	Factor  []float64
	TiltDeg float64
	Zero    float64
	Through float64 // of the factor of transmittance, from 1
}

// Pane is what a coupon brings with it from its glass batch, its coating and itself.
type Pane struct {
	Glass             string
	GlassShift        float64 // of batch and coupon together
	Skeleton          float64 // index at 550 nm of the solid of its coating
	Leak, RoughnessNM float64
	MoreAbsorbance    float64 // of the glass, as a share of that of its table
}

// static is the noise of curves: its standard deviation and the length in points within which
// its correlation falls by 1/e (0: white).
type static struct{ sd, length float64 }

// Curve is one spectrum as an instrument would write it.
type Curve struct {
	AngleDeg     float64 // nominal
	Polarisation string
	Through      bool      // of transmittance: what Reflectance holds then
	WavelengthNM []float64 // shared with the band; not to be changed
	Reflectance  []float64
	NoiseSD      float64 // true
	NoiseMAD     float64 // 1.4826 x median of |second differences| / sqrt(6)
}

// session draws a session of the law.
func (l Law) session(d dice, key string, u Setup) Session {
	share := func() float64 {
		switch u.Polarisation {
		case "s":
			return 1
		case "p":
			return 0
		case "mean":
			return 0.5
		case "n":
			return 0.5 + d.draw(l.NativeShare, key+"/native")
		case "u":
			return 0.5 + d.draw(l.SShare, key+"/share")
		}
		panic(fmt.Sprintf("foreign: no polarisation %q", u.Polarisation))
	}
	s := Session{
		Scale: 1 + d.draw(l.Scale, key+"/scale"), SShare: share(),
		WavelengthNM: d.draw(l.WavelengthNM, key+"/wavelength"),
		Zero:         d.draw(l.Zero, key+"/zero"), ZeroSlope: d.draw(l.ZeroSlope, key+"/slope"),
		JoinStep: d.draw(l.JoinStep, "join"), JoinNM: d.draw(l.JoinNM, "join-nm"), // the instrument's
	}
	for _, angle := range u.AnglesDeg {
		at := fmt.Sprintf("%s/%g", key, angle)
		s.Factor = append(s.Factor, 1+d.draw(l.Factor, at+"/factor"))
		s.AngleDeg = append(s.AngleDeg, d.draw(l.AngleDeg, at+"/angle"))
		capture, facet := 1.0, 1.0
		if angle > 15 {
			capture -= d.draw(l.CaptureLoss, at+"/capture")
		}
		if u.Textured {
			facet -= d.draw(l.FacetLoss, at+"/facet")
		}
		s.Capture, s.Facet = append(s.Capture, capture), append(s.Facet, facet)
	}
	s.Through = l.throughSession(d, key, u)
	return s
}

// placement draws a placement of a coupon for one spot in one session; key names all three.
func (l Law) placement(d dice, key string, u Setup) Placement {
	p := Placement{TiltDeg: d.draw(l.TiltDeg, key+"/tilt")}
	zero := l.PlaceZero
	if u.Back == "blackened" {
		zero = l.PlaceZeroBlackened
	}
	p.Zero = d.draw(zero, key+"/place-zero")
	p.Through = d.draw(l.PlaceThrough, key+"/T/place-factor")
	for _, angle := range u.AnglesDeg {
		p.Factor = append(p.Factor, 1+d.draw(l.PlaceFactor, fmt.Sprintf("%s/%g/place-factor", key, angle)))
	}
	return p
}

// static returns the law's noise on the points of a band.
func (l Law) static(b *Band) static {
	return static{l.NoiseSD, l.NoiseLengthNM / (b.WavelengthNM[1] - b.WavelengthNM[0])}
}

// neutral is a session and a placement that add nothing.
func neutral(u Setup) (Session, Placement) {
	n := len(u.AnglesDeg)
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	share := map[string]float64{"s": 1, "p": 0}
	half, ok := share[u.Polarisation]
	if !ok {
		half = 0.5
	}
	return Session{Scale: 1, SShare: half, Factor: ones, AngleDeg: make([]float64, n), Capture: ones, Facet: ones,
			Through: ThroughSession{Scale: 1, AngleDeg: make([]float64, len(u.ThroughDeg))}},
		Placement{Factor: ones}
}

// Ideal returns the noise-free curves of a surface at nominal angles and wavelengths, without
// any effect of session, placement, leak or texture.
func (s Surface) Ideal(u Setup) []Curve {
	session, placement := neutral(u)
	u.Textured = false
	return measure(s, u, session, placement, Pane{})
}

// measure returns the curves of a surface, one an angle of the set-up:
//
//	scale x factor(angle) x factor(curve) x [ R + leak x (1 - R)^2 ] + zero(session) + zero(placement)
//
// Texture multiplies the bracket; sloping zero and join are added.
func measure(s Surface, u Setup, session Session, place Placement, c Pane) []Curve {
	var t tracer
	wave := u.Band.WavelengthNM
	out := make([]Curve, len(u.AnglesDeg))
	for i, nominal := range u.AnglesDeg {
		values := make([]float64, len(wave))
		angle := math.Abs(nominal + session.AngleDeg[i] + place.TiltDeg)
		t.panes(values, s, u, session, angle, session.Capture[i], c)
		leak := 0.0
		if u.Back == "matched" {
			leak = c.Leak
		}
		scale := session.Scale * session.Factor[i] * place.Factor[i]
		for k, lambda := range wave {
			r := values[k]
			r += leak * (1 - r) * (1 - r)
			if u.Textured {
				rough := 4 * math.Pi * c.RoughnessNM * math.Cos(angle*math.Pi/180) / lambda
				r *= session.Facet[i] * math.Exp(-rough*rough)
			}
			across := 2*(lambda-wave[0])/(wave[len(wave)-1]-wave[0]) - 1
			values[k] = scale*r + session.Zero + place.Zero + session.ZeroSlope*across
			if lambda > session.JoinNM {
				values[k] += session.JoinStep
			}
		}
		out[i] = Curve{AngleDeg: nominal, Polarisation: u.Polarisation, WavelengthNM: wave, Reflectance: values}
	}
	return out
}

// lightTrap returns what a session reads of no light at all, one curve an angle.
func lightTrap(u Setup, session Session) []Curve {
	nothing := session
	nothing.Scale = 0
	none := Surface{Glass: FusedSilica, Skeleton: 1.458}
	_, place := neutral(u)
	return measure(none, u, nothing, place, Pane{})
}

// addNoise adds noise to curves, each from a stream of its own, and notes its size.
func addNoise(curves []Curve, d dice, key string, n static) {
	for i := range curves {
		c := &curves[i]
		n.addTo(c.Reflectance, d.stream(fmt.Sprintf("%s/%g/noise", key, c.AngleDeg)))
		c.NoiseSD, c.NoiseMAD = n.sd, roughNoise(c.Reflectance)
	}
}

// panes stores in dst the reflectance of the coupon at one angle of incidence: of the front, and
// of the far face where that returns light:
//
//	R + capture T^2 tau^2 Rb / (1 - Rb R tau^2),   tau = exp(-4 pi k path / lambda)
//
// for each of s and p by itself; Rb is bare glass, or (coated) the same surface again, from
// inside. The reflectance of the front from inside is taken as that from outside, exact but for
// a residue, where it errs by less than 1e-5.
func (t *tracer) panes(dst []float64, s Surface, u Setup, session Session, angle, capture float64, c Pane) {
	returns := u.Back == "bare" || u.Back == "coated"
	knots := make([]float64, len(u.Band.knots))
	if !returns {
		rays := beam(angle, u.ConeDeg, session.SShare)
		found := make([]light, len(rays))
		for j, lambda := range u.Band.knots {
			t.at(found, s, lambda+session.WavelengthNM, rays)
			for _, l := range found {
				knots[j] += l.R
			}
		}
		u.Band.spread(dst, knots)
		return
	}
	clear(dst)
	for _, part := range []struct{ weight, share float64 }{{session.SShare, 1}, {1 - session.SShare, 0}} {
		t.passes(s, u, session, beam(angle, 0, part.share), c, func(k int, p pass) {
			dst[k] += part.weight * (p.r + capture*p.through*p.through*p.tau*p.tau*p.far/(1-p.far*p.r*p.tau*p.tau))
		})
	}
}

// passes calls do with what a beam of one polarisation meets at each point of the band.
func (t *tracer) passes(s Surface, u Setup, session Session, rays []ray, c Pane, do func(k int, p pass)) {
	wave := u.Band.WavelengthNM
	var knots [4][]float64
	for i := range knots {
		knots[i] = make([]float64, len(u.Band.knots))
	}
	found, glass := make([]light, len(rays)), make([]light, len(rays))
	for j, lambda := range u.Band.knots {
		lambda += session.WavelengthNM
		t.at(found, s, lambda, rays)
		glass[0] = found[0]
		if u.Back == "bare" {
			t.at(glass, s.unlayered(), lambda, rays)
		}
		knots[0][j], knots[1][j], knots[2][j], knots[3][j] = found[0].R, found[0].T, glass[0].R, glass[0].T
	}
	var full [4][]float64
	for i := range full {
		full[i] = make([]float64, len(wave))
		u.Band.spread(full[i], knots[i])
	}
	for k, lambda := range wave {
		lambda += session.WavelengthNM
		path := u.GlassMM * 1e6 / math.Sqrt(1-rays[0].sin2/s.glassEps(lambda))
		absorbance := 4 * math.Pi * paneExtinction().at(s.Glass, lambda) * path / lambda * (1 + c.MoreAbsorbance)
		do(k, pass{full[0][k], full[1][k], full[2][k], full[3][k], math.Exp(-absorbance)})
	}
}

// beam returns the rays of a beam at an angle in degrees, of which a share is s light at its
// axis. In a cone the plane of incidence turns from ray to ray, and with it what is s and p:
// with the field of the beam along the axis' s or p direction, less its part along the ray,
// the s share of a ray is (y . s)^2 / (1 - ky^2).
func beam(angle, cone, share float64) []ray {
	sin, cos := math.Sincos(angle * math.Pi / 180)
	if cone == 0 {
		return []ray{{sin * sin, share, 1 - share}}
	}
	var out []ray
	const azimuths = 8
	half := cone * math.Pi / 180
	// Two rings that integrate the square of the radius exactly to third order (Gauss-Legendre).
	for _, square := range []float64{0.5 - 0.5/math.Sqrt(3), 0.5 + 0.5/math.Sqrt(3)} {
		radius := half * math.Sqrt(square)
		for a := range azimuths {
			turn := 2 * math.Pi * (float64(a) + 0.5) / azimuths
			du, dv := math.Sin(radius)*math.Cos(turn), math.Sin(radius)*math.Sin(turn)
			x, y := sin*math.Cos(radius)+cos*du, dv
			sin2 := x*x + y*y
			along := x * x / sin2 / (1 - y*y) // s share of a ray whose beam is s at the axis
			ray := ray{sin2, share*along + (1-share)*(1-along), share*(1-along) + (1-share)*along}
			ray.s /= 2 * azimuths
			ray.p /= 2 * azimuths
			out = append(out, ray)
		}
	}
	return out
}

// addTo adds normal noise to values.
func (n static) addTo(values []float64, source *rand.Rand) {
	keep := 0.0
	if n.length > 0 {
		keep = math.Exp(-1 / n.length)
	}
	fresh := math.Sqrt(1 - keep*keep)
	state := source.NormFloat64()
	for i := range values {
		if i > 0 {
			state = keep*state + fresh*source.NormFloat64()
		}
		values[i] += n.sd * state
	}
}

// roughNoise estimates white noise of a curve from its second differences.
func roughNoise(values []float64) float64 {
	steps := make([]float64, len(values)-2)
	for i := range steps {
		steps[i] = math.Abs(values[i] - 2*values[i+1] + values[i+2])
	}
	sort.Float64s(steps)
	n := len(steps)
	return 1.4826 * (steps[(n-1)/2] + steps[n/2]) / 2 / math.Sqrt(6)
}
