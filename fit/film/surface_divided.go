package film

// divisor is a dark blank by whose readings those of a curve were divided, as bare glass of the coupon at the nominal
// angle. With B what bare glass reflects there, the quotient is
//
//	R divided = R measured / (1 + e)        e = [zero(session) + steps at joins + B' · angle error + (Bs - Bp) · share error] / B
//
// since coupon and blank have the errors of their session in common. Its scale and the factors of its angles cancel. What only
// the blank has, such as the factor and the tilt of its placement, counts as what is known of scale and factors.
type divisor struct {
	r, byAngle [2][]float64 // s and p
}

// divide returns the quotient for a reading at point i, and makes of its derivatives by kind in d those of the quotient.
func (c *curve) divide(i int, reading float64, d *[kinds]float64) float64 {
	a, by := &c.state, c.divisor
	s, p, share := by.r[0][i], by.r[1][i], a.share
	blank := c.share*s + (1-c.share)*p
	byAngle := share*by.byAngle[0][i] + (1-share)*by.byAngle[1][i]
	byShare := s - p + a.angleError*(by.byAngle[0][i]-by.byAngle[1][i])
	part := 1 / (1 + (a.zero+byAngle*a.angleError+(share-c.share)*(s-p))/blank)
	reading *= part
	for k := range int(kJoin) + c.joins {
		d[k] *= part
	}
	less := reading * part / blank
	d[kZero] -= less
	d[kAngle] -= less * byAngle
	switch c.beam {
	case mixedBeam:
		d[kShare] -= less * byShare
	case nativeBeam:
		d[kNative] -= less * byShare
	}
	for j := range c.joins {
		d[int(kJoin)+j] -= less
	}
	return reading
}

// isDivided reports whether the readings of the curve were divided by those of a dark blank.
func (c *curve) isDivided() bool { return c.divisor != nil && !c.through }
