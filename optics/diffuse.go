package optics

import "math"

// Leaked returns the reflectance of a face of reflectance r behind which the share
// leak of the light that arrives at the far face comes back, one return only,
//
//	R = r + leak·(1-r)²
//
// with its derivatives by r and by leak. Returns of the second order, leak²·r, are
// left out: for the leaks of matched and blackened faces, below 0.001, they are
// below 1e-7. See [Pane.Return] for faces that return much.
func Leaked(r, leak float64) (total, byR, byLeak float64) {
	through := 1 - r
	return r + leak*through*through, 1 - 2*leak*through, through * through
}

// DiffuseReflectance returns what a bare face of a lossless material of index n in
// air, n at least 1, reflects of light that comes evenly from all directions of a
// half-space: from the air, and from inside. With m = n, from the air
//
//	1/2 + (m-1)(3m+1)/(6(m+1)²) + m²(m²-1)²/(m²+1)³·ln((m-1)/(m+1))
//	  - 2m³(m²+2m-1)/((m²+1)(m⁴-1)) + 8m⁴(m⁴+1)/((m²+1)(m⁴-1)²)·ln m
//
// and from inside 1 - (1 - that)/m², which total reflection makes much.
//
// Below n = 1.001 the sum cancels, and the result is off by up to 1e-6 and more.
// Source: S. Q. Duntley, J. Opt. Soc. Am. 32, 61-70 (1942), citation from memory;
// the formula is checked against an integral of Fresnel's equations in the tests.
func DiffuseReflectance(n float64) (outside, inside float64) {
	if n == 1 {
		return 0, 0
	}
	m2 := n * n
	m4 := m2 * m2
	outside = 0.5 + (n-1)*(3*n+1)/(6*(n+1)*(n+1)) +
		m2*(m2-1)*(m2-1)/((m2+1)*(m2+1)*(m2+1))*math.Log((n-1)/(n+1)) -
		2*n*m2*(m2+2*n-1)/((m2+1)*(m4-1)) +
		8*m4*(m4+1)/((m2+1)*(m4-1)*(m4-1))*math.Log(n)
	return outside, 1 - (1-outside)/m2
}
