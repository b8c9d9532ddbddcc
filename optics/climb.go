package optics

import "math"

// climb takes one wave of one polarisation up through a film at one wavelength, and
// the derivatives down.
type climb struct {
	d, t float64 // thickness of film and skin, nm
	n    int     // steps

	skin
	e0              float64 // admittance of air
	e0S             float64 // ∂ln e0/∂S, S = sin²θ
	re, im, mod2    float64 // η2 of the glass, and |η2|²
	reS, imS, mod2S float64
	reG, imG, mod2G float64
	topCh, topSh    float64 // the turn from the skin into air
	startA, startB  float64
	lay             [mostSteps]lay

	at, byH, above float64 // at one thickness: R, its derivative by h and by the turn above

	r, byD, byV        float64            // R̄ and its derivatives by d and v
	byTurn, bySkinEta  float64            // by 2δ and ln η of the skin
	byLnE              float64            // by ln e0
	byRe, byIm, byMod2 float64            // by the terms of the glass
	eps, diff          [mostSteps]float64 // by ε and D of each step
	bySkinEps, byS     float64            // by ε of the skin; by S through the layers
}

// skin is the skin at one wavelength, which is the same for both polarisations: index,
// ε, q² = ε - sin²θ, q, 2δ per nm, sine and cosine of 2δ.
type skin struct{ skinIndex, skinEps, skinU, skinQ, skinRate, skinSin, skinCos float64 }

// lay is one step in one polarisation.
type lay struct {
	eta, u, rate, jump float64 // η, q², δ per nm, Λ
	ch, sh             float64 // the turn into what lies above
	byRate, byEta      float64 // ∂R̄ by rate and ln η
	byJump             float64 // by Λ

	// Sine and cosine of δ in the middle of the spread and 1/δ there, and sine and cosine of the change of δ to the
	// last pair of points on either side of it.
	sin0, cos0, inverse0, sinX, cosX float64

	// At one thickness: sine and cosine of δ, F = sin δ/δ - cos δ and its derivative
	// by δ, the turn in the middle, and the fields.
	sin, cos, f, fd, midCh, midSh float64
	in, mid, out                  field // at the bottom, above the middle, at the top
}

// film sets what does not depend on the wavelength.
func (c *climb) film(p *Profile) { c.d, c.t, c.n = p.film.ThicknessNM, p.film.SkinNM, p.steps }

// skinOf sets the skin.
func (c *climb) skinOf(k, sin2, solid float64) {
	c.skinIndex, c.skinEps = solid, solid*solid
	c.skinU = c.skinEps - sin2
	c.skinQ = math.Sqrt(c.skinU)
	c.skinRate = 2 * k * c.skinQ
	c.skinSin, c.skinCos = math.Sincos(c.skinRate * c.t)
}

// below sets air and glass from the terms of a surface.
func (c *climb) below(t *admittance, e0 float64) {
	c.e0, c.e0S = e0, 0.5*t.e02S/t.e02
	inv := 0.25 / e0
	c.re, c.im, c.mod2 = t.n*inv, 0.5*t.b2, t.q-t.e02
	c.reS, c.imS, c.mod2S = t.nS*inv-c.re*c.e0S, 0.5*t.b2S, t.qS-t.e02S
	c.reG, c.imG, c.mod2G = t.nG*inv, 0.5*t.b2G, t.qG
}

// layS and layP set the steps.
func (c *climb) layS(steps []stepEps, k, sin2 float64) {
	for j := range steps {
		l := &c.lay[j]
		l.u = steps[j].mean - sin2
		l.eta = math.Sqrt(l.u)
		l.rate = k * l.eta
		l.jump = steps[j].diff / l.u
	}
	c.join(c.skinQ)
}

func (c *climb) layP(steps []stepEps, k, sin2 float64) {
	for j := range steps {
		l, e := &c.lay[j], &steps[j]
		inv := 1 / e.mean
		ratio := e.diff * inv
		l.u = e.mean - sin2*(1+ratio*ratio/12)
		q := math.Sqrt(l.u)
		l.eta = e.mean / q
		l.rate = k * q
		l.jump = ratio * (1 - sin2/l.u)
	}
	c.join(c.skinEps / c.skinQ)
}

// join sets the turns between the layers under a skin of admittance eta, and the
// start on the glass.
func (c *climb) join(eta float64) {
	c.topCh, c.topSh = turn(c.e0, eta)
	above := eta
	for j := range c.n {
		l := &c.lay[j]
		l.ch, l.sh = turn(above, l.eta)
		l.byRate, l.byEta, l.byJump = 0, 0, 0
		above = l.eta
	}
	x := c.mod2 / above
	c.startA, c.startB = 0.5*(above+x), 0.5*(above-x)
	c.r, c.byD, c.byV = 0, 0, 0
	c.byTurn, c.bySkinEta, c.byLnE = 0, 0, 0
	c.byRe, c.byIm, c.byMod2 = 0, 0, 0
}

// turn returns cosh and sinh of ln(to/from).
func turn(to, from float64) (ch, sh float64) {
	inv := 0.5 / (to * from)
	t, f := to*to, from*from
	return (t + f) * inv, (t - f) * inv
}

// hyperbolic returns cosh and sinh of r.
func hyperbolic(r float64) (ch, sh float64) {
	x := r * r
	if x < 0.01 { // the next terms are below 1e-16 of the result
		return 1 + x*(1./2+x*(1./24+x*(1./720+x*(1./40320)))),
			r * (1 + x*(1./6+x*(1./120+x*(1./5040+x*(1./362880)))))
	}
	e := math.Exp(r)
	inv := 1 / e
	return 0.5 * (e + inv), 0.5 * (e - inv)
}

// sincos returns sine and cosine of x, in a third of the time of [math.Sincos] where x is small.
func sincos(x float64) (sin, cos float64) {
	y := x * x
	if y < 0.09 { // the next terms are below 1e-16 of the result
		return x * (1 - y*(1./6-y*(1./120-y*(1./5040-y*(1./362880-y*(1./39916800)))))),
			1 - y*(1./2-y*(1./24-y*(1./720-y*(1./40320-y*(1./3628800-y*(1./479001600))))))
	}
	return math.Sincos(x)
}

// field is a, b and y of [Surface.Structured], or the derivatives by them.
type field struct{ a, b, y float64 }

// through returns v above a layer whose 2δ has the given sine and cosine, and back the
// derivatives below it where v are those above.
func (v field) through(sin, cos float64) field {
	return field{v.a, v.b*cos - v.y*sin, v.b*sin + v.y*cos}
}
func (v field) back(sin, cos float64) field { return field{v.a, v.b*cos + v.y*sin, v.y*cos - v.b*sin} }

// into returns v after a hyperbolic turn, and as well the derivatives before it.
func (v field) into(ch, sh float64) field { return field{ch*v.a + sh*v.b, sh*v.a + ch*v.b, v.y} }

// average adds up R̄ and its derivatives over the thicknesses of the rule, whose points
// are the middle and pairs on either side of it. Both polarisations go side by side,
// which takes a third less time than one after the other.
func average(s, p *climb, rule *spread) {
	share := 1 / float64(s.n)
	h := s.d * share
	for i := range rule.n {
		at := &rule.at[i]
		if i == 0 {
			middle(s, p, h)
		} else {
			s.thickness(i, h, at.offset, at.inverse)
			p.thickness(i, h, at.offset, at.inverse)
		}
		addPolarisations(s, p, h*(1+at.offset), at.weight)
		s.add(at.weight, at.weightV, at.offset, at.offsetV, share)
		p.add(at.weight, at.weightV, at.offset, at.offsetV, share)
	}
}

// middle sets sine and cosine of δ in all steps of both polarisations in the middle of the spread, where a step is h thick.
// Those of p follow from those of s, since the two δ are nearly the same.
func middle(s, p *climb, h float64) {
	ls := s.lay[:s.n]
	lp := p.lay[:len(ls)]
	for j := range ls {
		l, m := &ls[j], &lp[j]
		deltaS, deltaP := l.rate*h, m.rate*h
		l.sin0, l.cos0 = math.Sincos(deltaS)
		sin, cos := sincos(deltaP - deltaS)
		m.sin0, m.cos0 = l.sin0*cos+l.cos0*sin, l.cos0*cos-l.sin0*sin
		l.inverse0, m.inverse0 = 1/deltaS, 1/deltaP
		l.sin, l.cos, m.sin, m.cos = l.sin0, l.cos0, m.sin0, m.cos0
		l.turnIn(deltaS, l.inverse0)
		m.turnIn(deltaP, m.inverse0)
	}
}

// thickness sets sine and cosine of δ in all steps at point i of a rule, above 0: h is the thickness of a step in the
// middle of the spread, where middle has set them, and inverse is 1/(1+offset).
func (c *climb) thickness(i int, h, offset, inverse float64) {
	lays := c.lay[:c.n]
	for j := range lays {
		l := &lays[j]
		delta := l.rate * h
		if i%2 == 1 {
			l.sinX, l.cosX = sincos(delta * offset)
			l.sin, l.cos = l.sin0*l.cosX+l.cos0*l.sinX, l.cos0*l.cosX-l.sin0*l.sinX
		} else {
			l.sin, l.cos = l.sin0*l.cosX-l.cos0*l.sinX, l.cos0*l.cosX+l.sin0*l.sinX
		}
		l.turnIn(delta+delta*offset, l.inverse0*inverse)
	}
}

// add adds R at one point of a rule to the sums.
func (c *climb) add(weight, weightV, offset, offsetV, share float64) {
	byD := c.byH * share
	c.r += weight * c.at
	c.byD += (1 + offset) * byD
	c.byV += weightV*c.at + offsetV*c.d*byD
}

// addPolarisations computes R of both polarisations for steps of thickness h, and adds weight times
// the derivatives to the sums, but for those by h.
func addPolarisations(s, p *climb, h, weight float64) {
	v, w := field{s.startA, s.startB, -s.im}, field{p.startA, p.startB, -p.im}
	ls := s.lay[:s.n]
	lp := p.lay[:len(ls)]
	for j := len(ls) - 1; j >= 0; j-- {
		l, m := &ls[j], &lp[j]
		l.in, m.in = v, w
		v, w = v.through(l.sin, l.cos), w.through(m.sin, m.cos)
		v, w = v.into(l.midCh, l.midSh), w.into(m.midCh, m.midSh)
		l.mid, m.mid = v, w
		v, w = v.through(l.sin, l.cos), w.through(m.sin, m.cos)
		l.out, m.out = v, w
		v, w = v.into(l.ch, l.sh), w.into(m.ch, m.sh)
	}
	v, w = s.top(v, weight), p.top(w, weight)
	for j := range ls {
		l, m := &ls[j], &lp[j]
		v, w = v.into(l.ch, l.sh), w.into(m.ch, m.sh)
		byS, byP := v.y*l.out.b-v.b*l.out.y, w.y*m.out.b-w.b*m.out.y
		v, w = v.back(l.sin, l.cos), w.back(m.sin, m.cos)
		midS, midP := 0.5*(v.a*l.mid.b+v.b*l.mid.a), 0.5*(w.a*m.mid.b+w.b*m.mid.a)
		v, w = v.into(l.midCh, l.midSh), w.into(m.midCh, m.midSh)
		v, w = v.back(l.sin, l.cos), w.back(m.sin, m.cos)
		s.addStep(l, v, byS, midS, h)
		p.addStep(m, w, byP, midP, h)
	}
	s.bottom(v)
	p.bottom(w)
}

// top takes the field at the bottom of the skin into the air, where it gives R, and
// returns weight times the derivatives of R by the field at the bottom of the skin.
func (c *climb) top(low field, weight float64) field {
	high := low.through(c.skinSin, c.skinCos)
	air := high.into(c.topCh, c.topSh)
	inv := 1 / (air.a + c.re)
	c.at = (air.a - c.re) * inv
	byA := 2 * weight * inv * inv
	c.byRe -= byA * air.a
	byA *= c.re

	by := field{byA * c.topCh, byA * c.topSh, 0}
	above := byA * air.b // by the turn at the upper face
	c.byLnE += above
	c.byTurn -= by.b * high.y
	by = by.back(c.skinSin, c.skinCos)
	c.above = by.a*low.b + by.b*low.a
	c.bySkinEta += c.above - above
	c.byH = 0
	return by
}

// addStep adds the derivatives by one step: by are those by the field at its bottom,
// byOut those by δ through its upper half, byMid that by the turn in its middle.
func (c *climb) addStep(l *lay, by field, byOut, byMid, h float64) {
	byDelta := byOut + by.y*l.in.b - by.b*l.in.y + byMid*l.jump*l.fd
	below := by.a*l.in.b + by.b*l.in.a
	l.byEta += below - c.above
	c.above = below
	l.byJump += byMid * l.f
	l.byRate += byDelta * h
	c.byH += byDelta * l.rate
}

// bottom adds the derivatives by the glass.
func (c *climb) bottom(by field) {
	c.byMod2 += 0.5 * (by.a - by.b) / c.lay[c.n-1].eta
	c.byIm -= by.y
}

// turnIn sets the turn in the middle of a step of phase thickness delta, whose inverse, sine and cosine are known.
func (l *lay) turnIn(delta, inverse float64) {
	if delta > 0.1 {
		l.f = l.sin*inverse - l.cos
		l.fd = l.sin - l.f*inverse
	} else { // the next terms are below 1e-17
		x := delta * delta
		g := (1. / 3) - x*((1./30)-x*((1./840)-x*((1./45360)-x*(1./3991680))))
		l.f = x * g
		l.fd = l.sin - delta*g
	}
	l.midCh, l.midSh = hyperbolic(0.5 * l.jump * l.f)
}

// chainS and chainP take the derivatives by what a layer is to the light over to
// those by permittivities and sin²θ.
func (c *climb) chainS(steps []stepEps) {
	c.byS = 0
	for j := range steps {
		l := &c.lay[j]
		inv := 1 / l.u
		byU := (0.5*(l.byRate*l.rate+l.byEta) - l.byJump*l.jump) * inv
		c.eps[j], c.diff[j] = byU, l.byJump*inv
		c.byS -= byU
	}
	c.bySkinEps = 0.5 * (c.byTurn*c.skinRate*c.t + c.bySkinEta) / c.skinU
	c.byS -= c.bySkinEps
}

func (c *climb) chainP(steps []stepEps, sin2 float64) {
	c.byS = 0
	for j := range steps {
		l, e := &c.lay[j], &steps[j]
		inv, invU := 1/e.mean, 1/l.u
		ratio := e.diff * inv
		square := ratio * ratio / 12
		byU := (0.5*(l.byRate*l.rate-l.byEta) + l.byJump*ratio*sin2*invU) * invU
		c.eps[j] = byU*(1+2*sin2*square*inv) + (l.byEta-l.byJump*l.jump)*inv
		c.diff[j] = l.byJump*(1-sin2*invU)*inv - byU*sin2*ratio*inv/6
		c.byS -= byU*(1+square) + l.byJump*ratio*invU
	}
	byU := 0.5 * (c.byTurn*c.skinRate*c.t - c.bySkinEta) / c.skinU
	c.bySkinEps = byU + c.bySkinEta/c.skinEps
	c.byS -= byU
}

// store stores the results for wavelength i.
func (c *climb) store(to *StructuredResponse, i int, film *Profile, steps []stepEps, bySin2 float64) {
	var byP, byG, bySolid float64
	for j := range steps {
		e, eps, diff := &steps[j], c.eps[j], c.diff[j]
		byP += eps*e.meanP + diff*e.diffP
		byG += eps*e.meanG + diff*e.diffG
		bySolid += eps*e.meanSolid + diff*e.diffSolid
	}
	to.R[i] = c.r
	to.DNM[i] = c.byD
	to.DIndex[i] = byP * film.porous.byIndex
	to.DSkeleton[i] = bySolid + 2*c.skinIndex*c.bySkinEps + byP*film.porous.bySkeleton
	to.DGradient[i] = byG
	to.DSkin[i] = c.byTurn * c.skinRate
	to.DVariance[i] = c.byV
	to.DAngle[i] = (c.byS + c.byLnE*c.e0S + c.byRe*c.reS + c.byMod2*c.mod2S + c.byIm*c.imS) * bySin2
	to.DGlass[i] = c.byRe*c.reG + c.byMod2*c.mod2G + c.byIm*c.imG
}
