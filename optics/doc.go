// Package optics computes the light reflected and transmitted by coated glass.
//
// Start with [Stack] for thin films on a half-space of glass, [Pane] for a
// sheet of glass with two faces, and [Surface] for the fast exact path of one
// lossless film with derivatives, which fits use; with a [Profile] it takes a
// graded film with a skin and a spread of thickness, and by [Surface.Absorbing] and
// [Passes] the transmittance of a pane. An [Index] says what a film
// or a glass is made of; a [Mixing] gives the permittivity of a porous one.
//
// Conventions hold throughout. Wavelengths are vacuum wavelengths in nm; the
// 0.03 % by which they are shorter in air is not corrected. Angles of incidence
// are in degrees from the normal in the medium of incidence, 0 <= angle < 90. A
// complex index is n + ik with k >= 0 absorbing (time factor exp(-iωt)), and a
// permittivity is its square; nothing is magnetic. Reflectance R and
// transmittance T are power fractions in [0, 1]. A thickness ends in NM or MM.
//
// Everything is a pure function of its arguments, and values are safe for
// concurrent use. Nothing is extrapolated: an index asked for outside its range
// is a [*RangeError]. What is outside physics is a [*DomainError]. Functions
// panic only on faults of the calling code, and say when.
package optics
