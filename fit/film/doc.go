// Package film fits a model of coated glass to measured reflectance. It finds the
// thickness, the porosity and the bare fraction of the film, with their uncertainties.
//
// Start with [Fit], which takes a [Spot] (the curves of one marked place on a
// coupon, usually at several angles) and returns a [Verdict]; for many spots of one
// kind keep a [Fitter]. A verdict gives estimates with standard uncertainties and
// flags; [Verdict.Mean] gives the weighted mean of the fitted surface's reflectance,
// from which solar values are computed. [FitSession] fits all spots of one session
// together, [FitPulls] all pulls of one spot. Before anything is measured,
// [Fitter.Precision] says how well curves would determine a film.
//
// For the uncertainty of a verdict, [Verdict.Profile] gives intervals by the profile of
// the likelihood, [Verdict.Bootstrap] by repeated fits, [Budget] the terms of the
// uncertainty, [Verdict.Influence] the influence of each point.
//
// # The model
//
// The reflectance of curve c at wavelength λ is
//
//	reading = scale · factor(angle) · factor(curve) · [R + leak·(1-R)²] + zero + steps at detector joins
//	R   = w·R_s + (1-w)·R_p
//	R_q = ρ_q + capture·return(ρ_q)             q = s, p
//	ρ_q = (1 - bare)·R_film,q(d, n) + bare·R_glass,q
//
// with w the s share of the beam. A lossless, uniform film of index n and thickness d on glass
// reflects
//
//	R_film = 1 - 4·e0·Re η2 / |(e0+η2)·cos δ - i·(e0·η2/e1 + e1)·sin δ|²
//	δ      = (2π/λ)·d·√(n² - sin²θ)
//
// with the tilted admittances e0, e1, η2 of air, film and glass (s: n·cos θ, p: n/cos θ; see
// [optics.Surface]). The reflectances of a patchy film add by area. The far face returns, incoherently,
//
//	return(ρ) = (1-ρ)²·β / (1 - ρ·β)
//
// of the light on a front of reflectance ρ. β is 0 for glass that is matched to an absorber,
// paint of index 1.50 for blackened glass, the face of the glass if that is bare, the same film if
// both faces are coated, each through the absorption of the pane (surface_back.go). Textured glass
// loses specular light as exp(-(4π·roughness·cos θ/λ)²). Where a cone, a slit or a spread of
// thickness is known or free, R_film and R_glass are averages over it (surface_beam.go).
//
// The free parameters are the film's optical thickness τ = n550·d and its index
// n550, which the data determine best, and the bare fraction. The index at other
// wavelengths follows from the coating's mixing rule and from its skeleton, the
// dispersion of fused silica shifted to the skeleton index at 550 nm. Thickness
// d = τ/n550, porosity and material left are derived, with full covariance.
//
// Each effect belongs to an owner, a session, a placement, a coupon, a batch of glass, a coating or a spot, and stays free
// under what is known of it beforehand instead of being fixed: law.go has the table, [Known] the sizes, which are common
// practice without a source unless a laboratory states its own. Effects that one reading cannot distinguish are fitted as
// one, with their variances added. [Verdict.Errors] says how much of an uncertainty each effect causes, with its sign, so
// that what two results share counts once in their difference.
//
// The noise of a curve comes from its second differences or from replicate scans. Where residuals
// are larger than the noise, or correlated along the wavelength, the noise is raised by as much and
// the fit is made again. In this way the priors are not inflated with it.
//
// # Structures
//
// Every spot with a film is fitted twice: by a uniform film, whose thickness, porosity and bare fraction are those of the
// equivalent uniform film, and by one with a gradient of porosity, a dense skin and a spread of thickness, free under what is
// known of them (solve_structure.go). Solar values and material left are of the second fit, in which skin, variance and
// bare fraction may fall below 0, so that the errors of sound films are as their uncertainties say. Bare glass against a film is
// decided by a likelihood ratio at a nominal 1 %. Whether the first and the second fit describe the smooth part of the curves
// is tested ([Flags]: structure, misfit); the outcome changes no value.
//
// # Limits
//
// Water in the pores looks like lower porosity. By reflectance alone the film counts as lossless, and an absorbing residue looks
// like a better film; where transmittance is read too, k of the film and a residue are fitted (surface_through.go). Joint fits
// leave such spots to their own fits, and plans are of reflectance. One angle near the
// normal does not separate thickness, porosity and bare
// fraction, nor do four angles on a remnant of some 10 nm. Porosities by different mixing rules
// cannot be compared. With the priors above and noise of 0.0005, four angles leave the thickness of
// a film of 90 nm or more uncertain by 0.1 to 0.35 nm.
//
// # What is promised
//
// The same spot gives the same verdict to the last digit. Bad data give errors,
// never panics. A parameter that the data do not determine is flagged
// not-separable, one on a limit of the fit at-bound; neither is shown with a small error.
// At a physical zero, such as no bare glass, the interval is one-sided, without a flag.
package film
