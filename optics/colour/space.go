package colour

import "math"

// XYZ are tristimulus values; Y of a perfect reflector is 100.
type XYZ struct{ X, Y, Z float64 }

// Times returns the values multiplied by a factor, as of the same surface in more light.
func (c XYZ) Times(by float64) XYZ { return XYZ{c.X * by, c.Y * by, c.Z * by} }

// Chromaticity returns x and y, the shares of X and Y in their sum; NaN of black.
func (c XYZ) Chromaticity() (x, y float64) {
	sum := c.X + c.Y + c.Z
	return c.X / sum, c.Y / sum
}

// Lab is a colour in CIE 1976 L*a*b*: lightness 0 (black) to 100 (the white), a from green to red, b from blue to
// yellow.
type Lab struct{ L, A, B float64 }

// Where the cube root of L*a*b* goes over into a line: (6/29)³, and its slope, by ISO/CIE 11664-4.
const (
	labBend  = 6. / 29
	labSlope = 1 / (3 * labBend * labBend)
	labStart = 4. / 29
)

// Lab returns the colour relative to a white: [Light.White], or a white sheet under the same light.
//
// Source: ISO/CIE 11664-4.
func (c XYZ) Lab(white XYZ) Lab {
	fx, fy, fz := rooted(c.X/white.X), rooted(c.Y/white.Y), rooted(c.Z/white.Z)
	return Lab{L: 116*fy - 16, A: 500 * (fx - fy), B: 200 * (fy - fz)}
}

// XYZ is the way back from [XYZ.Lab].
func (c Lab) XYZ(white XYZ) XYZ {
	fy := (c.L + 16) / 116
	return XYZ{white.X * cubed(fy+c.A/500), white.Y * cubed(fy), white.Z * cubed(fy-c.B/200)}
}

// Chroma returns how far the colour is from grey.
func (c Lab) Chroma() float64 { return math.Hypot(c.A, c.B) }

func rooted(t float64) float64 {
	if t > labBend*labBend*labBend {
		return math.Cbrt(t)
	}
	return labSlope*t + labStart
}

func cubed(f float64) float64 {
	if f > labBend {
		return f * f * f
	}
	return (f - labStart) / labSlope
}

// RGB is a colour for screens and printers, each part 0 to 1.
type RGB struct{ R, G, B float64 }

// matrix is three rows of three.
type matrix [3][3]float64

func (m *matrix) times(x, y, z float64) (float64, float64, float64) {
	return m[0][0]*x + m[0][1]*y + m[0][2]*z, m[1][0]*x + m[1][1]*y + m[1][2]*z, m[2][0]*x + m[2][1]*y + m[2][2]*z
}

var (
	// To linear sRGB and back: IEC 61966-2-1 with amendment 1.
	toScreen = matrix{{3.2406255, -1.5372080, -0.4986286}, {-0.9689307, 1.8757561, 0.0415175}, {0.0557101, -0.2040211, 1.0569959}}
	ofScreen = matrix{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}
	// To the responses between which whites are adapted, and back: ICC.1, annex E (Bradford).
	toCones = matrix{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}
	ofCones = inverse(&toCones)
)

// screenWhite is D65 as sRGB rounds it.
var screenWhite = XYZ{95.05, 100, 108.9}

// SRGB returns the colour on a screen that shows the given white as its own, which is D65 (adapted by Bradford's
// matrix). within is false where the screen cannot show the colour, and parts were cut to 0 or 1.
//
// Source: IEC 61966-2-1; the adaptation ICC.1, annex E.
func (c XYZ) SRGB(white XYZ) (rgb RGB, within bool) {
	c = c.Adapted(white, screenWhite)
	r, g, b := toScreen.times(c.X/100, c.Y/100, c.Z/100)
	const almost = 1e-4 // a ten-thousandth of full light, which the rounding of the matrices is good for
	within = min(r, g, b) >= -almost && max(r, g, b) <= 1+almost
	return RGB{encoded(r), encoded(g), encoded(b)}, within
}

// XYZ returns the tristimulus values that a screen shows, relative to its white of Y = 100.
func (c RGB) XYZ() XYZ {
	l := c.Linear()
	return LinearXYZ(l.R, l.G, l.B)
}

// ScreenWhite returns the white to which [RGB.XYZ] is relative.
func ScreenWhite() XYZ { return screenWhite }

// Adapted returns what a person who takes one white for white sees as the same colour where another white is.
func (c XYZ) Adapted(from, to XYZ) XYZ {
	l, m, s := toCones.times(c.X, c.Y, c.Z)
	l0, m0, s0 := toCones.times(from.X, from.Y, from.Z)
	l1, m1, s1 := toCones.times(to.X, to.Y, to.Z)
	x, y, z := ofCones.times(l*l1/l0, m*m1/m0, s*s1/s0)
	return XYZ{x, y, z}
}

func encoded(linear float64) float64 {
	linear = min(max(linear, 0), 1)
	if linear <= 0.0031308 {
		return 12.92 * linear
	}
	return 1.055*math.Pow(linear, 1/2.4) - 0.055
}

func decoded(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// inverse returns the inverse of a matrix that has one.
func inverse(m *matrix) (inv matrix) {
	for i := range 3 {
		for j := range 3 {
			a, b, c, d := m[(j+1)%3][(i+1)%3], m[(j+1)%3][(i+2)%3], m[(j+2)%3][(i+1)%3], m[(j+2)%3][(i+2)%3]
			inv[i][j] = a*d - b*c
		}
	}
	determinant := m[0][0]*inv[0][0] + m[0][1]*inv[1][0] + m[0][2]*inv[2][0]
	for i := range 3 {
		for j := range 3 {
			inv[i][j] /= determinant
		}
	}
	return inv
}

// Linear returns the parts of the colour as amounts of light.
func (c RGB) Linear() RGB { return RGB{decoded(c.R), decoded(c.G), decoded(c.B)} }

// LinearXYZ returns the tristimulus values of amounts of light of the three colours of sRGB, relative to a white of Y = 100.
func LinearXYZ(r, g, b float64) XYZ {
	x, y, z := ofScreen.times(r, g, b)
	return XYZ{100 * x, 100 * y, 100 * z}
}

// Encoded is the way back from [RGB.Linear].
func (c RGB) Encoded() RGB { return RGB{encoded(c.R), encoded(c.G), encoded(c.B)} }
