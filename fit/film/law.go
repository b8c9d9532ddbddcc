package film

import (
	"fmt"
	"math"
	"strconv"

	"wane/fit"
)

// The law of a reading: what may be off, whom it belongs to, and what is known of it beforehand. With R the area mean of
// film and bare glass at the true angle and wavelength, a curve reads
//
//	scale · factor(angle) · factor(curve) · [R + leak·(1-R)²] + zero(session) + zero(placement) + steps at joins
//
// and one of the transmittance T of the pane, whose scale, factor, zero and steps are its own,
//
//	scale · factor(placement) · T + zero(session) + steps at joins
//
// A reading that was divided by that of a dark blank is such a quotient: see divisor (surface_divided.go).
//
// The table below has one entry for each effect. Parameter vectors, priors, joint fits, sensitivities, the budget and
// the guide follow from it.

// Owner says whom an effect belongs to: all readings that have the owner in common share the effect.
type Owner int

// The owners.
const (
	OwnerFilm       Owner = iota // the film itself, and what nothing is known of beforehand: one reading's own
	OwnerSession                 // one sitting at one instrument
	OwnerPlacement               // one coupon set down once for one spot
	OwnerCoupon                  // the piece of glass
	OwnerBatch                   // the batch of its glass
	OwnerCoating                 // the coating
	OwnerSpot                    // the marked place, at all pulls
	OwnerReading                 // the marked place at one pull
	OwnerInstrument              // the instrument as enrolled
	OwnerJoint                   // a joint fit: what its spots share that does not outlive it
)

// String returns the word of the owner.
func (o Owner) String() string {
	return [...]string{"film", "session", "placement", "coupon", "batch", "coating", "spot", "reading", "instrument",
		"joint"}[o]
}

// effect declares one effect of the law.
type effect struct {
	kind         kind
	name         string // of its parameter; those of an angle setting or a curve are followed by @ and which
	term         string // what a budget calls it
	owner        Owner
	unit         string  // of its value; empty for a ratio
	lower, upper float64 // bounds of the fit
	size         float64 // a typical size, for differences
	// knowledge returns what is known of it beforehand: mean and standard uncertainty; 0 fixes the effect at its mean, and
	// an infinite one means that nothing is known.
	knowledge func(k *Known, s *Spot) (mean, sd float64)
	// merges is the effect from which one reading cannot distinguish it: a reading by itself has one parameter for both,
	// with the variances of what is known of each added. noMerge: none.
	merges kind
}

// noMerge says that an effect is distinguished from all others.
const noMerge kind = -1

// law lists the effects but those of the film itself, in the order of their kinds.
var law = [...]effect{
	{kSkeleton, "skeleton_index", "skeleton index", OwnerCoating, "of index", 1.2, 1.8, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return s.Coating.skeleton() }, noMerge},
	{kGlass, "glass_index", "glass index", OwnerBatch, "of index", -maxGlass, maxGlass, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return 0, s.Glass.UIndex }, noMerge},
	{kCouponGlass, "coupon_index", "glass index of the coupon", OwnerCoupon, "of index", -maxGlass, maxGlass, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Coupon.UIndex }, kGlass},
	{kScale, Scale, "scale", OwnerSession, "", minScale, maxScale, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return k.Session.scale(), k.Session.UScale }, noMerge},
	{kShare, "s_share", "s share of even beams", OwnerSession, "", 0, 1, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return 0.5, k.Session.UMixed }, noMerge},
	{kNative, "s_share_native", "s share", OwnerSession, "", 0, 1, 0.05,
		func(k *Known, s *Spot) (float64, float64) { return 0.5, k.Session.UShare }, noMerge},
	{kGradient, "gradient", "gradient of porosity", OwnerSpot, "", -maxGradient, maxGradient, 0.05,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Structure.UGradient }, noMerge},
	{kGradientOff, "gradient_of_reading", "gradient of the reading", OwnerReading, "", -maxGradient, maxGradient, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Structure.UGradientOff }, kGradient},
	{kSkin, "skin", "skin", OwnerSpot, "nm", leastSkin, maxSkin, 3,
		func(k *Known, s *Spot) (float64, float64) { return k.Structure.SkinNM, k.Structure.USkinNM }, noMerge},
	{kSkinOff, "skin_of_reading", "skin of the reading", OwnerReading, "nm", leastSkin, maxSkin, 1,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Structure.USkinOffNM }, kSkin},
	{kVariance, "variance", "variance of thickness", OwnerSpot, "", leastVariance, maxVariance, 0.003,
		func(k *Known, s *Spot) (float64, float64) { return k.Structure.Variance, k.Structure.UVariance }, noMerge},
	{kVarianceOff, "variance_of_reading", "variance of the reading", OwnerReading, "", leastVariance, maxVariance, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Structure.UVarianceOff }, kVariance},
	{kLoss, "film_k", "absorption of the film", OwnerSpot, "of k", leastLoss, maxLoss, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return k.Loss.K, k.Loss.UK }, noMerge},
	{kResidue, "residue", "absorption of a residue", OwnerReading, "nm", leastResidue, maxResidue, 0.1,
		func(k *Known, s *Spot) (float64, float64) { return k.Loss.ResidueNM, k.Loss.UResidueNM }, noMerge},
	{kThroughScale, "T_scale", "scale of transmittance", OwnerSession, "", minScale, maxScale, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return 1, k.Session.UThroughScale }, noMerge},
	{kThroughZero, "T_zero", "zero of transmittance", OwnerSession, "of transmittance", -maxZero, maxZero, 1e-4,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Session.UThroughZero }, noMerge},
	{kThroughPlace, "T_place", "factor of transmittance", OwnerPlacement, "", minScale, maxScale, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return 1, k.Placement.UThrough }, kThroughScale},
	{kPaneLoss, "pane_absorbance", "absorption of the pane", OwnerBatch, "", 0, maxPaneLoss, 0.1,
		func(k *Known, s *Spot) (float64, float64) { return 1, s.Glass.byIndex(s.Glass.ULoss) }, noMerge},
	{kPass, "pane_by_blank", "pane by the blank", OwnerBatch, "", minScale, maxScale, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return 1, s.Glass.byBlank(s.Glass.UPass) }, kThroughScale},
	{kTilt, "tilt", "tilt of the placement", OwnerPlacement, "degrees", -maxTilt, maxTilt, 0.1,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Placement.UTiltDeg }, noMerge},
	{kWavelength, "wavelength_error", "wavelength error", OwnerSession, "nm", -maxWavelengthError, maxWavelengthError, 0.1,
		func(k *Known, s *Spot) (float64, float64) { return k.Session.WavelengthNM, k.Session.UWavelengthNM }, noMerge},
	{kZero, "zero", "zero", OwnerSession, "of reflectance", -maxZero, maxZero, 1e-4,
		func(k *Known, s *Spot) (float64, float64) { return k.Session.Zero, k.Session.UZero }, noMerge},
	{kPlaceZero, "place_zero", "zero of the placement", OwnerPlacement, "of reflectance", -maxZero, maxZero, 1e-4,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Placement.UZero }, kZero},
	{kLeak, "leak", "leak of the far face", OwnerCoupon, "", -maxLeak, maxLeak, 1e-4,
		func(k *Known, s *Spot) (float64, float64) { return k.Coupon.leak(s.Glass.Back) }, noMerge},
	{kFactor, "factor", "angle factors", OwnerSession, "", minScale, maxScale, 0.01,
		func(k *Known, s *Spot) (float64, float64) { return 1, k.Session.UFactor }, noMerge},
	{kAngle, "angle", "angle errors", OwnerSession, "degrees", -maxAngleError, maxAngleError, 0.1,
		func(k *Known, s *Spot) (float64, float64) { return 0, k.Session.UAngle }, noMerge},
	{kPlaceFactor, "place_factor", "factors of the placement", OwnerPlacement, "", minScale, maxScale, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return 1, k.Placement.UFactor }, kFactor},
	{kJoin, "join", "detector joins", OwnerInstrument, "of reflectance", -maxStep, maxStep, 0.001,
		func(k *Known, s *Spot) (float64, float64) { return 0, s.Instrument.UJoin }, noMerge},
}

// owners is a set of owners.
type owners uint16

func (o owners) has(owner Owner) bool { return o>>owner&1 == 1 }

func ownersOf(list ...Owner) (set owners) {
	for _, o := range list {
		set |= 1 << o
	}
	return set
}

// merged reports whether effect e has no parameter of its own at a place, since a reading cannot distinguish it from
// the effect that it merges with. apart are the owners whose effects stay apart, as in a joint fit.
func (m *model) merged(e *effect, setting int, apart owners) bool {
	if e.merges == noMerge || apart.has(e.owner) {
		return false
	}
	if e.kind == kPlaceZero && (len(m.mountings) > 1 || m.spot.Divided) {
		return false
	}
	return e.kind != kPlaceFactor || setting < 0 || m.curvesAt(setting) == 1 // below 0: the curve is not in the model
}

// curvesAt returns the number of curves at an angle setting.
func (m *model) curvesAt(setting int) (n int) {
	for i := range m.spot.Curves {
		if m.settingOf(&m.spot.Curves[i]) == setting {
			n++
		}
	}
	return n
}

// applies reports whether an effect can be seen in the curves at all: the share of a beam that no curve has, or the leak of
// a far face that has none, cannot.
func (m *model) applies(e *effect) bool {
	switch e.kind {
	case kShare:
		return m.mixed
	case kNative:
		return m.native
	case kLeak:
		return leaks(m.spot.Glass.Back)
	case kScale, kZero, kPlaceZero:
		return m.reflects
	}
	if e.isOfThrough() {
		return m.through
	}
	return m.structured || !e.isStructure()
}

// isOfThrough reports whether only transmittance shows the effect.
func (e *effect) isOfThrough() bool { return e.kind >= kLoss && e.kind <= kPass }

// isStructure reports whether the effect is a structure of the film.
func (e *effect) isStructure() bool { return e.kind >= kGradient && e.kind <= kVarianceOff }

// knowledgeOf returns what is known beforehand of an effect in the curves of m, or in those of an angle setting, -1 for none;
// the sd is 0 of one that they cannot show. A structure vanishes with the film.
func (m *model) knowledgeOf(e *effect, setting int, known *Known) (mean, sd float64) {
	mean, sd = e.knowledge(known, m.spot)
	switch {
	case setting >= 0 && m.throughs[setting] && e.kind != kAngle: // transmittance has factors of its own
		return mean, 0
	case !m.applies(e):
		if e.isStructure() || e.kind == kLeak || e.kind == kLoss || e.kind == kResidue {
			mean = 0
		}
		return mean, 0
	case e.isStructure():
		return m.structure * mean, m.structure * sd
	}
	return mean, sd
}

// eachEffect calls do for every parameter of the law, with its effect and the angle setting that it belongs to, -1 for
// none.
func (m *model) eachEffect(do func(i int, e *effect, setting int)) {
	for k := range law {
		switch e := &law[k]; e.kind {
		case kFactor, kAngle:
			for s := range m.angles {
				do(pAngles+perAngle*s+int(e.kind-kFactor), e, s)
			}
		case kPlaceFactor:
			for c := range m.spot.Curves {
				do(m.pPlaceFactor(c), e, m.settingOf(&m.spot.Curves[c]))
			}
		case kTilt:
			for k := range m.mountings {
				do(m.pTilt(k), e, -1)
			}
		case kPlaceZero:
			for k := range m.mountings {
				do(m.pPlaceZero(k), e, -1)
			}
		case kJoin:
			for j := range m.countJoins() {
				do(m.pJoin(j), e, -1)
			}
		default:
			do(int(e.kind), e, -1)
		}
	}
}

// nameAt returns the name of the parameter of an effect at position i.
func (m *model) nameAt(i int, e *effect, setting int) string {
	switch e.kind {
	case kFactor:
		return m.names[setting].factor
	case kAngle:
		return m.names[setting].angle
	case kPlaceFactor:
		return e.name + "@" + strconv.Itoa(i-m.pPlaceFactor(0)+1)
	case kTilt, kPlaceZero:
		if i != int(e.kind) {
			return fmt.Sprintf("%s@%d", e.name, m.mountings[1+(i-m.pMounting(1))/perMounting])
		}
	case kJoin:
		j := i - m.pJoin(0)
		if j >= len(m.ofR) {
			return fmt.Sprintf("T_%s@%g", e.name, m.ofT[j-len(m.ofR)])
		}
		return fmt.Sprintf("%s@%g", e.name, m.ofR[j])
	}
	return e.name
}

// lawParams fills the parameters of the law.
func (m *model) lawParams(ps []fit.Param, apart owners) {
	known := m.spot.known()
	m.eachEffect(func(i int, e *effect, setting int) {
		mean, sd := m.knowledgeOf(e, setting, &known)
		p := fit.Param{Name: m.nameAt(i, e, setting), Start: mean, Lower: e.lower, Upper: e.upper, Scale: e.size, Fixed: true}
		if !m.merged(e, setting, apart) {
			for _, with := range mergers[e.kind] {
				if m.merged(with, setting, apart) {
					_, more := m.knowledgeOf(with, setting, &known)
					sd = math.Hypot(sd, more)
				}
			}
			if sd > 0 {
				p.Fixed, p.Prior = false, prior(mean, sd)
			}
		}
		ps[i] = p
	})
}

// mergers lists, by kind, the effects that merge with it.
var mergers = func() (by [kinds][]*effect) {
	for i := range law {
		if e := &law[i]; e.merges != noMerge {
			by[e.merges] = append(by[e.merges], e)
		}
	}
	return by
}()

// position returns the position of the parameter of a kind that is one or one for each angle setting.
func position(k kind, setting int) int {
	if k >= kFactor {
		return pAngles + perAngle*setting + int(k-kFactor)
	}
	return int(k)
}

// effectAt returns the effect of the parameter at position i; nil for those of the film.
func (m *model) effectAt(i int) *effect {
	k := kind(i)
	switch {
	case i >= m.pJoin(0):
		k = kJoin
	case i >= m.pMounting(1):
		if k = kTilt; (i-m.pMounting(1))%perMounting == 1 {
			k = kPlaceZero
		}
	case i >= m.pPlaceFactor(0):
		k = kPlaceFactor
	case i >= pAngles:
		k = kFactor + kind((i-pAngles)%perAngle)
	}
	for j := range law {
		if law[j].kind == k {
			return &law[j]
		}
	}
	return nil
}

// isCapture reports whether the parameter at position i is the captured share of an angle setting.
func (m *model) isCapture(i int) bool {
	return i >= pAngles && i < m.pPlaceFactor(0) && kFactor+kind((i-pAngles)%perAngle) == kCapture
}

// paramsApart returns the parameters of a solution of m with those of the owners apart unmerged: where they are free in
// a joint fit.
func (m *model) paramsApart(s *solution, apart owners) []fit.Param {
	ps := m.params(apart)
	for i := range ps {
		p, solved := &ps[i], &s.params[i]
		e := m.effectAt(i)
		if e == nil || solved.Fixed && e.merges == noMerge { // what has been decided of the film stays
			*p = *solved
		}
		if !p.Fixed {
			p.Start = min(max(s.x[i], p.Lower), p.Upper)
		}
	}
	return ps
}

// outlives reports whether an owner is the same at all pulls of a spot on one instrument.
func (o Owner) outlives() bool {
	return ownersOf(OwnerCoupon, OwnerBatch, OwnerCoating, OwnerSpot, OwnerInstrument).has(o)
}
