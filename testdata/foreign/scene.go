package foreign

import "fmt"

// Scene is a kind of single spot. Thickness, porosity and bare fraction are drawn afresh for
// every run, evenly over the ranges given.
type Scene struct {
	Name                              string
	Setup                             Setup
	Glass                             string
	ThicknessNM, Porosity, BareEffect Effect
	Blank                             bool
}

// Scenes are the single spots of the coverage tables.
func Scenes() []Scene {
	even := func(low, high float64) Effect { return Effect{Even, (low + high) / 2, (high - low) / 2} }
	fresh := Scene{Name: "fresh", Setup: Standard(), Glass: SodaLime,
		ThicknessNM: even(108, 128), Porosity: even(0.31, 0.41)}
	with := func(name string, change func(*Scene)) Scene {
		s := fresh
		s.Name = name
		change(&s)
		return s
	}
	return []Scene{
		fresh,
		with("thinned", func(s *Scene) { s.ThicknessNM, s.BareEffect = even(60, 95), even(0, 0.05) }),
		with("patchy", func(s *Scene) { s.BareEffect = even(0.05, 0.30) }),
		with("thin", func(s *Scene) { s.ThicknessNM, s.BareEffect = even(30, 60), even(0, 0.10) }),
		with("textured", func(s *Scene) { s.Setup.Textured = true }),
		with("native", func(s *Scene) { s.Setup.Polarisation = "n" }),
		with("two-angles", func(s *Scene) { s.Setup.AnglesDeg = []float64{8, 60} }),
		with("blank", func(s *Scene) { s.Blank = true }),
	}
}

// SceneNamed returns one of Scenes; it panics at another name.
func SceneNamed(name string) Scene {
	for _, s := range Scenes() {
		if s.Name == name {
			return s
		}
	}
	panic(fmt.Sprintf("foreign: no scene %q", name))
}

// Truth is what a reading of a spot ought to give.
type Truth struct {
	Solar
	GainPP         float64 // SolarT less that of the same glass, bare, clean and unleached
	CellGainPP     float64 // the same by photons
	MaterialLeftNM float64
}

// Spot is one reading of one spot: what it truly is, what the instrument did, and the curves.
type Spot struct {
	Surface   Surface
	Truth     Truth
	Setup     Setup
	Session   Session
	Placement Placement
	Pane      Pane
	Curves    []Curve // of reflectance, then of transmittance
	Blank     []Curve // transmittance of the same pane without a film, in the same session
}

// Run returns run number run of the scene under a law. Equal arguments give equal results; runs
// may be made side by side.
func (sc Scene) Run(law Law, seed, run uint64) Spot { return sc.Remount(law, seed, run, 1)[0] }

// Remount returns what Run returns, and the same spot set down anew in the same session, times
// spots in all.
func (sc Scene) Remount(law Law, seed, run uint64, times int) []Spot {
	d := dice{seed, run}
	c := law.pane(d, "coupon", "batch", "coating", sc.Glass)
	s := c.surface()
	law.soil(&s)
	if !sc.Blank {
		s.Thickness, s.Porosity = d.draw(sc.ThicknessNM, "thickness"), d.draw(sc.Porosity, "porosity")
		s.Bare = d.draw(sc.BareEffect, "bare")
		s.FilmK = d.draw(law.FilmK, "spot/film-k")
		law.structure(d, "spot").drifted(law, d, "spot/0").on(&s)
	}
	truth, session := truthOf(s), law.session(d, "session", sc.Setup)
	out := make([]Spot, times)
	for i := range out {
		key := fmt.Sprintf("placement/%d", i)
		place := law.placement(d, key, sc.Setup)
		curves := measure(s, sc.Setup, session, place, c)
		through := measureThrough(s, sc.Setup, session, place, c)
		addNoise(curves, d, key, law.static(sc.Setup.Band))
		addNoise(through, d, key+"/T", law.static(sc.Setup.Band))
		out[i] = Spot{s, truth, sc.Setup, session, place, c, append(curves, through...), nil}
		if len(through) > 0 {
			out[i].Blank = measureThrough(s.unlayered(), sc.Setup, session, law.placement(d, "blank/"+key, sc.Setup), c)
			addNoise(out[i].Blank, d, "blank/"+key+"/T", law.static(sc.Setup.Band))
		}
	}
	return out
}

// Ideal returns the noise-free curves of reflectance of the spot, as Surface.Ideal does.
func (s Spot) Ideal() []Curve { return s.Surface.Ideal(s.Setup) }

// truthOf computes the truth of a surface.
func truthOf(s Surface) Truth {
	var t tracer
	return t.truth(s)
}

func (t *tracer) truth(s Surface) Truth {
	out := Truth{Solar: t.solar(s), MaterialLeftNM: s.MaterialLeft()}
	bare := s.unlayered().Solar()
	out.GainPP, out.CellGainPP = 100*(out.SolarT-bare.SolarT), 100*(out.CellT-bare.CellT)
	return out
}

// pane draws a coupon; the keys name it, its glass batch and its coating.
func (l Law) pane(d dice, coupon, batch, coating, glass string) Pane {
	batchEffect := l.BatchCatalogue
	switch glass {
	case SodaLime:
		batchEffect = l.BatchFloat
	case LowIron:
		batchEffect = l.BatchLowIron
	}
	return Pane{
		Glass:       glass,
		GlassShift:  d.draw(batchEffect, batch+"/glass") + d.draw(l.CouponGlass, coupon+"/glass"),
		Leak:        d.draw(l.Leak, coupon+"/leak"),
		RoughnessNM: d.draw(l.RoughnessNM, coupon+"/roughness"),
		Skeleton:    d.draw(l.Skeleton, coating+"/skeleton"),

		MoreAbsorbance: d.draw(l.PaneAbsorbance, batch+"/absorbance"),
	}
}

// surface returns the surface of a coupon with no film yet.
func (c Pane) surface() Surface {
	return Surface{Glass: c.Glass, GlassShift: c.GlassShift, Skeleton: c.Skeleton}
}

// soil gives a surface what the law lets exposure leave on it: leached glass and residue.
func (l Law) soil(s *Surface) {
	s.Leach, s.Residue, s.ResidueIndex = l.LeachNM, l.ResidueNM, l.ResidueIndex
}

// structure is how a film departs from a uniform one.
type structure struct{ gradient, skin, variance float64 }

// structure draws the structure of a spot.
func (l Law) structure(d dice, spot string) structure {
	return structure{d.draw(l.Gradient, spot+"/gradient"), d.draw(l.SkinNM, spot+"/skin"),
		d.draw(l.Variance, spot+"/variance")}
}

// drifted returns the structure of one reading of a surface that changes: it deviates from its
// spot, and what cannot be negative stops at zero.
func (s structure) drifted(l Law, d dice, reading string) structure {
	return structure{
		s.gradient + d.draw(l.GradientDrift, reading+"/gradient-drift"),
		max(0, s.skin+d.draw(l.SkinDriftNM, reading+"/skin-drift")),
		max(0, s.variance+d.draw(l.VarianceDrift, reading+"/variance-drift")),
	}
}

// on gives the structure to a surface.
func (s structure) on(surface *Surface) {
	surface.Gradient, surface.Skin, surface.Variance = s.gradient, s.skin, s.variance
}
