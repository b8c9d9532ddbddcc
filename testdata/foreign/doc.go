// Package foreign makes up readings of coated glass whose truth is known, for checks of what the
// program says of them. It is written from the description of the measurement model alone and
// shares no optics with the program: complex characteristic matrices over [Slices] slices, its
// own materials, its own solar weights. It imports nothing of the project.
//
// A [Law] is the distribution of every effect, by its owner. [Scene.Run] makes one reading of
// one spot; [Plan.Run] a small study with sessions, controls and blanks; [Trial.Run] a study from
// which something is decided, with the truth about the coatings in it. All that is drawn has
// a stream of random numbers of its own, made of seed, run and its key: equal arguments give equal
// results whatever runs beside them, and one effect switched off leaves the others alone.
//
// # Units
//
// Wavelengths, thicknesses and lengths in nm, angles in degrees, reflectances and
// transmittances as fractions, names that end in PP in percentage points.
//
// # What the description leaves open, and what is done here
//
//   - The skin t (4 +- 3 nm), the relative variance v (0.0025 +- 0.0035) and the leak (0.00016 +-
//     0.00012) have moved means and are not negative in truth. They are drawn as the physical
//     quantities of exactly these moments: t = |5 nm z|, v = (0.05 z)^2 (a relative spread of rms
//     5 %), leak = |0.0002 z|, with z standard normal.
//   - A reading deviates from its spot in g, t, v by independent normal amounts; t and v stop at
//     zero. The deviations are true changes: they are drawn at every pull, the first too, of a
//     surface that changes, and not at all of one that does not. A single spot has one draw.
//   - All structure vanishes with the film: t in proportion below 30 nm of film. The spread is of
//     the porous film, the skin is as thick everywhere. Bare area has none.
//   - Slices have the porosity of their middle. Material left is (1 - bare) x (solid of the
//     slices + t) at the mean thickness.
//   - The far face: leak only where it is matched; a blackened one returns nothing. Capture at
//     more than 15 degrees is even between 0.5 and 1, a session's facet factor at every angle too;
//     roughness is even between 5 and 25 nm. Texture multiplies front and leak. From bare and
//     coated far faces, s and p are summed apart, with the area means of a patchy front.
//   - An error of angle or wavelength is added to the nominal value to give the true one. Factor
//     and error of an angle are the session's, the s share is one a session.
//   - The session's scale is 1 +- 0.01 in truth, in studies with dark blanks too.
//   - A join adds a step to R beyond its wavelength (even, 800 to 900 nm; one of the instrument,
//     through all sessions). A sloping zero runs from -0.0005 to +0.0005, or back.
//   - Leached glass is a skin of index 1.48 (550 nm, dispersion of its glass) under film and bare
//     area, and residue a layer of index 1.7 + 0.05i on both. In a study, both come upon exposed
//     coupons after pull 0. SolarT is what passes into the glass; 1 - R is SolarLossless. The
//     change of a soiled coupon is that of its soiled surface.
//   - The glass that a gain is over, at every pull, is the coupon's own: clean and unleached.
//   - Correlated noise has the same standard deviation and a correlation of exp(-distance / 10 nm).
//   - The gradient, zero, join and slope of faults have either sign with even odds.
//   - In a trial the loss of a coupon is in proportion to the dose: SolarT of each spot falls along a
//     straight line exactly, while the structure of its film deviates at every pull (but stays that of
//     pull 0 where almost no other lets through enough). What a
//     coupon is drawn from is bounded ([Product]): no coupon gains, none loses more than its film gave.
//     Coupons are lost whatever they have lost in SolarT. Drift between sessions comes on top of what
//     the law draws for each; inside a session nothing drifts.
//   - A cone of light is round and evenly filled; slits are left out, and laminated panes.
package foreign
