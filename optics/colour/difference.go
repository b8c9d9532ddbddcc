package colour

import "math"

// Difference returns how different two colours look, by CIEDE2000 with all weights 1. About 1 is just seen side by side
// (common practice, no source).
//
// Source: ISO/CIE 11664-6; the steps and signs as in Sharma, Wu and Dalal, Color Research and Application 30 (2005) 21.
func Difference(p, q Lab) float64 {
	chroma := (p.Chroma() + q.Chroma()) / 2
	g := 0.5 * (1 - root7(chroma))
	p.A, q.A = p.A*(1+g), q.A*(1+g)
	cp, cq := p.Chroma(), q.Chroma()
	hp, hq := hue(p), hue(q)
	dl, dc := q.L-p.L, cq-cp
	turn, middle := hq-hp, (hp+hq)/2
	switch grey := cp*cq == 0; {
	case grey:
		turn, middle = 0, hp+hq
	case turn > 180:
		turn, middle = turn-360, middle+180
	case turn < -180:
		turn, middle = turn+360, middle+180
	}
	if middle >= 360 && cp*cq != 0 {
		middle -= 360
	}
	dh := 2 * math.Sqrt(cp*cq) * sine(turn/2)
	l, c := (p.L+q.L)/2-50, (cp+cq)/2
	t := 1 - 0.17*cosine(middle-30) + 0.24*cosine(2*middle) + 0.32*cosine(3*middle+6) - 0.20*cosine(4*middle-63)
	sl := 1 + 0.015*l*l/math.Sqrt(20+l*l)
	sc, sh := 1+0.045*c, 1+0.015*c*t
	around := (middle - 275) / 25
	rt := -2 * root7(c) * sine(60*math.Exp(-around*around))
	dl, dc, dh = dl/sl, dc/sc, dh/sh
	return math.Sqrt(max(dl*dl+dc*dc+dh*dh+rt*dc*dh, 0))
}

// root7 returns the root of c⁷/(c⁷ + 25⁷).
func root7(c float64) float64 {
	c7 := math.Pow(c, 7)
	return math.Sqrt(c7 / (c7 + 6103515625))
}

// hue returns the angle of a colour in degrees, 0 to 360; 0 of grey.
func hue(c Lab) float64 {
	if c.A == 0 && c.B == 0 {
		return 0
	}
	if h := math.Atan2(c.B, c.A) * 180 / math.Pi; h >= 0 {
		return h
	}
	return math.Atan2(c.B, c.A)*180/math.Pi + 360
}

func sine(degrees float64) float64   { return math.Sin(degrees * math.Pi / 180) }
func cosine(degrees float64) float64 { return math.Cos(degrees * math.Pi / 180) }
