package foreign

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
)

// Shape says how an effect is drawn about its centre, with z standard normal.
type Shape int

const (
	Normal     Shape = iota // centre + width z
	HalfNormal              // centre + |width z|: of root mean square width
	Squared                 // centre + (width z)^2: the square of a normal spread of rms width
	Even                    // uniform on centre - width to centre + width
	EitherSign              // centre - width or centre + width
)

// Effect is what is known of one effect before anything is measured.
type Effect struct {
	Shape         Shape
	Centre, Width float64
}

// Law holds the distribution of every effect, in the owner's order: session, placement, coupon,
// glass batch, coating, spot, reading, instrument. Factors are deviations from 1, shares from
// 0.5, capture and facets what is lost of 1.
type Law struct {
	Scale, Factor, AngleDeg, SShare, NativeShare, WavelengthNM, Zero Effect
	CaptureLoss, FacetLoss                                           Effect // session, each angle

	PlaceFactor, TiltDeg, PlaceZero, PlaceZeroBlackened Effect

	ThroughScale, ThroughZero, PlaceThrough Effect // of readings of transmittance: session, placement

	Leak, CouponGlass Effect

	BatchFloat, BatchLowIron, BatchCatalogue Effect

	PaneAbsorbance Effect // of the glass batch, as a share of that of the table of its glass

	Skeleton Effect // index at 550 nm

	FilmK Effect // of the spot: extinction of the porous film; 0 in the law, where no film absorbs

	Gradient, SkinNM, Variance                Effect
	GradientDrift, SkinDriftNM, VarianceDrift Effect // each reading of a surface that changes

	RoughnessNM Effect // of a textured coupon

	// Beyond the law: zero in it.
	JoinStep, JoinNM Effect // added to R above the wavelength JoinNM
	ZeroSlope        Effect // of the session: -value at the low end of the band to +value at the high end
	LeachNM          float64
	DarkLeachNM      float64 // of dark blanks
	ResidueNM        float64
	ResidueIndex     complex128

	NoiseSD       float64
	NoiseLengthNM float64 // 0: white; else its correlation falls as exp(-distance / length)
}

// Prior returns the law with its default knowledge.
func Prior() Law {
	return Law{
		Scale: Effect{Width: 0.01}, Factor: Effect{Width: 0.01}, AngleDeg: Effect{Width: 0.3},
		SShare: Effect{Width: 0.01}, NativeShare: Effect{Width: 0.05},
		WavelengthNM: Effect{Width: 0.3}, Zero: Effect{Width: 0.0005},
		CaptureLoss: Effect{Even, 0.25, 0.25}, FacetLoss: Effect{Even, 0.25, 0.25},

		PlaceFactor: Effect{Width: 0.002}, TiltDeg: Effect{Width: 0.05},
		PlaceZero: Effect{Width: 0.0002}, PlaceZeroBlackened: Effect{Width: 0.0001},

		ThroughScale: Effect{Width: 0.003}, ThroughZero: Effect{Width: 0.0005}, PlaceThrough: Effect{Width: 0.001},

		Leak: Effect{Shape: HalfNormal, Width: 0.0002}, CouponGlass: Effect{Width: 0.0005},

		BatchFloat: Effect{Width: 0.002}, BatchLowIron: Effect{Width: 0.005}, BatchCatalogue: Effect{Width: 0.0005},

		PaneAbsorbance: Effect{Width: 0.25},

		Skeleton: Effect{Centre: 1.458, Width: 0.010},

		Gradient: Effect{Width: 0.05}, SkinNM: Effect{Shape: HalfNormal, Width: 5},
		Variance:      Effect{Shape: Squared, Width: 0.05},
		GradientDrift: Effect{Width: 0.01}, SkinDriftNM: Effect{Width: 1}, VarianceDrift: Effect{Width: 0.0007},

		RoughnessNM: Effect{Even, 15, 10},

		JoinNM:       Effect{Even, 850, 50},
		ResidueIndex: complex(1.7, 0.05),
		NoiseSD:      0.0003,
	}
}

// Owner names one effect of a law.
type Owner struct {
	Owner, Name string
	Effect      *Effect
	Neutral     float64 // the value that has no effect
}

// Owners returns every effect of the law that a switch can reach, by pointers into it.
func (l *Law) Owners() []Owner {
	return []Owner{
		{"session", "scale", &l.Scale, 0}, {"session", "factor", &l.Factor, 0},
		{"session", "angle", &l.AngleDeg, 0}, {"session", "s-share", &l.SShare, 0},
		{"session", "native-share", &l.NativeShare, 0}, {"session", "wavelength", &l.WavelengthNM, 0},
		{"session", "zero", &l.Zero, 0}, {"session", "zero-slope", &l.ZeroSlope, 0},
		{"session", "capture", &l.CaptureLoss, 0}, {"session", "facets", &l.FacetLoss, 0},
		{"placement", "place-factor", &l.PlaceFactor, 0}, {"placement", "tilt", &l.TiltDeg, 0},
		{"placement", "place-zero", &l.PlaceZero, 0}, {"placement", "place-zero-blackened", &l.PlaceZeroBlackened, 0},
		{"coupon", "leak", &l.Leak, 0}, {"coupon", "coupon-glass", &l.CouponGlass, 0},
		{"coupon", "roughness", &l.RoughnessNM, 0},
		{"glass batch", "batch-float", &l.BatchFloat, 0}, {"glass batch", "batch-low-iron", &l.BatchLowIron, 0},
		{"glass batch", "batch-catalogue", &l.BatchCatalogue, 0},
		{"session", "T-scale", &l.ThroughScale, 0}, {"session", "T-zero", &l.ThroughZero, 0},
		{"placement", "T-place-factor", &l.PlaceThrough, 0}, {"glass batch", "pane-absorbance", &l.PaneAbsorbance, 0},
		{"spot", "film-k", &l.FilmK, 0},
		{"coating", "skeleton", &l.Skeleton, 1.458},
		{"spot", "gradient", &l.Gradient, 0}, {"spot", "skin", &l.SkinNM, 0}, {"spot", "variance", &l.Variance, 0},
		{"reading", "gradient-drift", &l.GradientDrift, 0}, {"reading", "skin-drift", &l.SkinDriftNM, 0},
		{"reading", "variance-drift", &l.VarianceDrift, 0},
		{"instrument", "join", &l.JoinStep, 0}, {"instrument", "join-wavelength", &l.JoinNM, 850},
	}
}

// Scaled returns the law with the widths of the named effects, or of all of them, multiplied.
// It panics at a name that is not one of Owners.
func (l Law) Scaled(by float64, names ...string) Law {
	l.each(names, func(o Owner) { o.Effect.Width *= by })
	return l
}

// Without returns the law with the named effects, or all of them, at the value that has no
// effect; noise stays. It panics at a name that is not one of Owners.
func (l Law) Without(names ...string) Law {
	l.each(names, func(o Owner) { *o.Effect = Effect{Centre: o.Neutral} })
	return l
}

// Set returns the law with the named effect fixed at a value. It panics at a name that is not
// one of Owners.
func (l Law) Set(name string, value float64) Law {
	l.each([]string{name}, func(o Owner) { *o.Effect = Effect{Centre: value} })
	return l
}

func (l *Law) each(names []string, do func(Owner)) {
	owners := l.Owners()
	wanted := map[string]bool{}
	for _, name := range names {
		wanted[name] = true
	}
	for _, o := range owners {
		if len(names) == 0 || wanted[o.Name] {
			do(o)
			delete(wanted, o.Name)
		}
	}
	for name := range wanted {
		panic(fmt.Sprintf("foreign: the law has no effect %q", name))
	}
}

// Faults are the names that Beyond knows.
func Faults() []string {
	return []string{"skin", "gradient", "spread", "zero", "placement", "glass", "join", "leached-glass",
		"leached-dark-blank", "sloping-zero", "residue", "correlated-noise"}
}

// Beyond returns the law with one fault beyond it, of the size that coverage is asked for; all
// other effects keep their distribution. It panics at a name that is not one of Faults.
func (l Law) Beyond(fault string) Law {
	switch fault {
	case "skin":
		l.SkinNM = Effect{Centre: 10}
	case "gradient":
		l.Gradient = Effect{EitherSign, 0, 0.05}
	case "spread":
		l.Variance = Effect{Centre: 0.05 * 0.05}
	case "zero":
		l.Zero = Effect{EitherSign, 0, 0.0005}
	case "placement":
		l.PlaceFactor.Width, l.TiltDeg.Width = 0.003, 0.1
	case "glass":
		l.BatchFloat.Centre, l.BatchLowIron.Centre, l.BatchCatalogue.Centre = 0.01, 0.01, 0.01
	case "join":
		l.JoinStep = Effect{EitherSign, 0, 0.001}
	case "leached-glass":
		l.LeachNM = 50
	case "leached-dark-blank":
		l.DarkLeachNM = 50
	case "sloping-zero":
		l.ZeroSlope = Effect{EitherSign, 0, 0.0005}
	case "residue":
		l.ResidueNM = 3
	case "correlated-noise":
		l.NoiseLengthNM = 10
	default:
		panic(fmt.Sprintf("foreign: no fault %q", fault))
	}
	return l
}

// dice draws the effects of one run. Each effect has a stream of its own, made of the seed, the
// run and its key, so that no draw depends on the order of the others or on which are on.
type dice struct{ seed, run uint64 }

// stream returns the random numbers of one key.
func (d dice) stream(key string) *rand.Rand {
	h := fnv.New128a()
	h.Write([]byte(strconv.FormatUint(d.seed, 36) + "/" + strconv.FormatUint(d.run, 36) + "/" + key))
	sum := h.Sum(nil)
	var high, low uint64
	for i := range 8 {
		high, low = high<<8|uint64(sum[i]), low<<8|uint64(sum[i+8])
	}
	return rand.New(rand.NewPCG(high, low))
}

// draw returns a value of the effect for its owner.
func (d dice) draw(e Effect, key string) float64 {
	if e.Width == 0 {
		return e.Centre
	}
	source := d.stream(key)
	switch e.Shape {
	case Normal:
		return e.Centre + e.Width*source.NormFloat64()
	case HalfNormal:
		return e.Centre + math.Abs(e.Width*source.NormFloat64())
	case Squared:
		z := e.Width * source.NormFloat64()
		return e.Centre + z*z
	case Even:
		return e.Centre + e.Width*(2*source.Float64()-1)
	case EitherSign:
		if source.Float64() < 0.5 {
			return e.Centre - e.Width
		}
		return e.Centre + e.Width
	}
	panic(fmt.Sprintf("foreign: no shape %d", e.Shape))
}
