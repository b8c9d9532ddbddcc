package scenario

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"

	"wane/study"
	"wane/study/power"
)

// Law is how far each effect of the measurement model is off in truth: standard deviations, of the leak the root of the mean
// square. Scales and factors are relative, indices at 550 nm, zeros fractions.
type Law struct {
	Scale, Factor, AngleDeg, SShare, WavelengthNM, Zero float64 // session; factor and angle: of each angle
	Place, TiltDeg, PlaceZero                           float64 // placement; place: of each curve
	Leak, CouponIndex                                   float64 // coupon
	GlassIndex                                          float64 // batch of the glass
	Skeleton                                            float64 // coating
	Gradient, SkinNM, Spread                            float64 // spot; skin |normal|, spread of thickness, relative
	GradientOff, SkinOffNM, VarianceOff                 float64 // reading of a surface that changes
}

// lawWords are the effects of a [Law] by the names that a plan has, in its order, with what the register of a study states of
// them, if it can.
var lawWords = []struct {
	name, about string
	most        float64 // beyond it nothing could be evaluated
	at          func(*Law) *float64
	state       func(*study.Instrument) *study.Stated
}{
	{"scale", "of the reference of a session, a ratio", 0.3, func(l *Law) *float64 { return &l.Scale }, nil},
	{"factor", "of each angle of a session, a ratio", 0.3, func(l *Law) *float64 { return &l.Factor }, nil},
	{"angle", "of each angle of a session, degrees", 5, func(l *Law) *float64 { return &l.AngleDeg }, nil},
	{"s-share", "share of s light in a session, a fraction", 0.3, func(l *Law) *float64 { return &l.SShare }, nil},
	{"wavelength", "of a session, nm", 2, func(l *Law) *float64 { return &l.WavelengthNM },
		func(i *study.Instrument) *study.Stated { return &i.UWavelengthNM }},
	{"zero", "of a session, a fraction", 0.05, func(l *Law) *float64 { return &l.Zero },
		func(i *study.Instrument) *study.Stated { return &i.UZero }},
	{"place", "factor of each curve of a placement, a ratio", 0.5, func(l *Law) *float64 { return &l.Place },
		func(i *study.Instrument) *study.Stated { return &i.UPlace }},
	{"tilt", "of a placement, degrees", 5, func(l *Law) *float64 { return &l.TiltDeg },
		func(i *study.Instrument) *study.Stated { return &i.UTiltDeg }},
	{"place-zero", "of a placement, a fraction", 0.05, func(l *Law) *float64 { return &l.PlaceZero },
		func(i *study.Instrument) *study.Stated { return &i.UPlaceZero }},
	{"leak", "of a matched far face, root mean square, a fraction", 0.1, func(l *Law) *float64 { return &l.Leak }, nil},
	{"coupon-index", "index of a coupon against its batch", 0.05, func(l *Law) *float64 { return &l.CouponIndex }, nil},
	{"glass-index", "index of a batch against its formula", 0.05, func(l *Law) *float64 { return &l.GlassIndex }, nil},
	{"skeleton", "index of the solid of a coating at 550 nm", 0.1, func(l *Law) *float64 { return &l.Skeleton }, nil},
	{"gradient", "of the porosity of a spot", 0.3, func(l *Law) *float64 { return &l.Gradient }, nil},
	{"skin", "dense skin of a spot, nm", 30, func(l *Law) *float64 { return &l.SkinNM }, nil},
	{"spread", "of the thickness within a spot, a ratio", 0.3, func(l *Law) *float64 { return &l.Spread }, nil},
	{"gradient-of-reading", "of a surface that changes", 0.3, func(l *Law) *float64 { return &l.GradientOff }, nil},
	{"skin-of-reading", "of a surface that changes, nm", 10, func(l *Law) *float64 { return &l.SkinOffNM }, nil},
	{"variance-of-reading", "of a surface that changes, a ratio", 0.05, func(l *Law) *float64 { return &l.VarianceOff }, nil},
}

// ErrorWord is an error that a plan can state, by its name, with what it is if left out for float glass with a matched far face.
type ErrorWord struct {
	Name, About string
	Default     float64
}

// ErrorWords returns the errors that a plan can state.
func ErrorWords() (words []ErrorWord) {
	l := defaultLaw("soda-lime", "matched")
	for _, w := range lawWords {
		words = append(words, ErrorWord{w.name, w.about, *w.at(&l)})
	}
	return words
}

// defaultLaw is what fits assume where nobody states better: see the measurement model of the guide. The skin and the spread are
// drawn as the physical quantities that have the moments assumed there.
func defaultLaw(glass, back string) Law {
	l := Law{Scale: 0.01, Factor: 0.01, AngleDeg: 0.3, SShare: 0.01, WavelengthNM: 0.3, Zero: 0.0005,
		Place: 0.002, TiltDeg: 0.05, PlaceZero: 0.0002, Leak: 0.0002, CouponIndex: 0.0005, GlassIndex: 0.002,
		Skeleton: 0.010, Gradient: 0.05, SkinNM: 5, Spread: 0.05, GradientOff: 0.01, SkinOffNM: 1, VarianceOff: 0.0007}
	switch glass {
	case "low-iron":
		l.GlassIndex = 0.005
	case "fused-silica", "borosilicate-crown":
		l.GlassIndex = 0.0005
	}
	if back == "blackened" {
		l.PlaceZero = 0.0001
	}
	return l
}

// dice draws what one study has. Each effect has a stream of its own, made of the seed, the number of the study and its key, so
// that no draw depends on which others there are: plans that differ in a coupon have the others alike.
type dice struct{ seed, number uint64 }

func (d dice) stream(key string) *rand.Rand {
	h := fnv.New128a()
	h.Write([]byte(strconv.FormatUint(d.seed, 36) + "/" + strconv.FormatUint(d.number, 36) + "/" + key))
	sum := h.Sum(nil)
	var high, low uint64
	for i := range 8 {
		high, low = high<<8|uint64(sum[i]), low<<8|uint64(sum[i+8])
	}
	return rand.New(rand.NewPCG(high, low))
}

// normal draws a normal value of mean 0.
func (d dice) normal(sd float64, key string) float64 {
	if sd == 0 {
		return 0
	}
	return sd * d.stream(key).NormFloat64()
}

// happens draws whether something of a chance does.
func (d dice) happens(chance float64, key string) bool {
	return chance > 0 && d.stream(key).Float64() < chance
}

// loss draws what a coupon loses of its solar transmittance by the last pull, pp.
func (d dice) loss(l *Loss, lot, coupon string) float64 {
	z := d.stream(coupon + "/loss")
	switch l.Law {
	case power.Exponential:
		return l.Mean * z.ExpFloat64()
	case power.Lognormal:
		return l.Mean * lognormal(l.SD/l.Mean, z) * lognormal(l.Lot/l.Mean, d.stream(lot+"/loss"))
	}
	return l.Mean + l.SD*z.NormFloat64() + d.normal(l.Lot, lot+"/loss")
}

// lognormal draws a lognormal factor of mean 1.
func lognormal(cv float64, source *rand.Rand) float64 {
	sigma := math.Sqrt(math.Log1p(cv * cv))
	return math.Exp(sigma*source.NormFloat64() - sigma*sigma/2)
}
