package guard

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// margin is the allowed distance of a level from the possible range, a fraction:
//
//	max(part·level + plus, least)
//
// If u is not 0, the margin is also at least the change of the level with angleSigmas standard deviations u of the
// scale, relative, and with an error of the angle of angleErrorDeg.
type margin struct{ part, plus, least, u float64 }

// beside returns the margin beside a level without u.
func (m margin) beside(level float64) float64 {
	return max(m.part*math.Abs(level)+m.plus, m.least)
}

// besideTurned returns the margin beside a level with u; by is the change of the level with the error of the angle.
// At 70 degrees reflectance rises by 6 % per degree.
func (m margin) besideTurned(level, by float64) float64 {
	if m.u == 0 {
		return m.beside(level)
	}
	return max(m.beside(level), math.Hypot(angleSigmas*m.u*level, by))
}

// angleSigmas is the number of standard deviations of the priors in [film.DefaultSession] that are allowed for.
// Common practice, no source.
const angleSigmas = 4.5

// angleErrorDeg returns the error of an angle that is allowed for, in degrees.
func angleErrorDeg() float64 { return angleSigmas * film.DefaultSession().UAngle }

// Limits of the guards of level, scale and angle. Common practice, no source: references
// drift by a few per cent, mounts turn by some tenths of a degree, detectors differ by some
// tenths of a percentage point, and a polariser lets some 0.1 % of the other polarisation
// through, which is most of p near Brewster's angle.
//
// Exposed blanks that were neither rinsed nor cleaned since their baseline show what dirt does,
// which takes or adds far more.
var (
	uLevel       = math.Hypot(film.DefaultSession().UScale, film.DefaultSession().UFactor)
	blankMargin  = margin{part: 0.10, least: 0.003, u: uLevel}
	soiledMargin = margin{part: 0.40, least: 0.003, u: uLevel}
	coatedMargin = margin{part: 0.10, plus: 0.003, u: uLevel}
	angleMargin  = margin{part: 0.05, least: 0.002} // of an angle, within a session whose blanks give the scale
	fitMargin    = margin{part: 0.03, least: 0.001} // within which another angle fits
)

// levelKind explains the guard level.
func levelKind() study.Term {
	known := film.DefaultSession()
	limits := []string{
		fmt.Sprintf("in at least 1 of %d of its bands of %d nm: uncoated glass more than %g %% and %g pp off the bare "+
			"glass of the roster, %g %% where it was exposed and neither rinsed nor cleaned", bandsPerOutlier, study.BandNM,
			100*blankMargin.part, 100*blankMargin.least, 100*soiledMargin.part),
		fmt.Sprintf("coated glass more than %g %% + %g pp outside what films of index %.2f to %.2f, up to %g nm thick, "+
			"can reflect", 100*coatedMargin.part, 100*coatedMargin.plus, filmIndexLo, filmIndexHi, filmThickNM),
		fmt.Sprintf("never less than %g standard deviations of scale (%g %%), angle factor (%g %%) and angle (%g degrees)",
			angleSigmas, 100*known.UScale, 100*known.UFactor, known.UAngle),
		fmt.Sprintf("all of a coated spot of %d readings or more, if one is too bright and one film explains all divided "+
			"by one factor of %g to %g", brightReadings, brightLeast, brightMost),
	}
	return study.Term{Word: levelWord,
		Meaning: "no bare glass, or no film on it, reflects so much or so little at this angle",
		Limit:   strings.Join(limits, "; "),
		Remedy:  "check glass, far face, angle and reference, and measure the spot again"}
}

// scaleKind explains the guard scale.
func scaleKind() study.Term {
	return study.Term{Word: scaleWord,
		Meaning: "the unit and the numbers do not agree: percent were taken for fractions, or fractions for percent",
		Limit: "as level, or coated glass below a third of the least that a film can reflect; and possible once the " +
			"numbers are multiplied or divided by 100",
		Remedy: "check the unit that was stated; if it is wrong, set the reading aside with wane review --aside"}
}

// marginOf returns the margin of the level at a place.
func marginOf(c *guarded, p *study.Place) margin {
	switch {
	case c.Role.Coated():
		return coatedMargin
	case c.Role == study.BlankExposed && p.Pull > c.BaselinePull && (p.Condition == "" || p.Condition == "as_found"):
		return soiledMargin
	}
	return blankMargin
}

// The films that count as possible: silica with a porosity from about 90 % to 0, up to the largest thickness that
// is sold (common practice, no source). Thicker films reflect little more or less than these.
const (
	filmIndexLo, filmIndexHi, filmIndexStep = 1.05, 1.50, 0.05
	filmThickNM, filmStepNM                 = 300.0, 10.0
)

const (
	bandsPerOutlier = 4      // one band of so many must lie outside: noise and dirt change the ends of curves
	nativeSigmas    = 3      // range of the s share of a native beam, in its standard deviations
	wholeReturnDeg  = 15     // angle up to which all of the far face's return is captured, as in the model of fit/film
	bareStepNM      = 25     // step of the wavelengths for bands of bare glass
	maxDeg          = 85     // steepest angle that is tried
	grazingDeg      = 89.9   // steepest angle at which levels are computed
	mattersDeg      = 5      // an angle can be judged if a change of so many degrees
	mattersPart     = 0.05   // changes the level by this share
	maxLevelSpread  = 0.02   // largest relative width of an expected level that others are compared with
	minLevel        = 0.005  // least level from which a factor is computed, a fraction
	leastPart       = 0.9    // a reading in the right unit has at least this share of the least possible mean
	shrunkenPart    = 1. / 3 // a coated reading that is 100 times too small has less than this share of it
)

// levelKey is what the level of a pane depends on.
type levelKey struct {
	glass, back  string
	stated       string // of the coupon
	mm, angleDeg float64
	polarisation string
}

// levelRange holds the lowest and the highest possible mean of each band, and how much lower and higher they
// are if the angle is off by angleErrorDeg.
type levelRange struct {
	firstNM    int
	lo, hi     []float64
	less, more []float64
}

// spanWithAngleError returns the range that of computes at the angle of k, with less and more from the ranges at
// the angles angleErrorDeg beside it.
func spanWithAngleError(glass *film.Glass, k levelKey, of func(*film.Glass, levelKey) levelRange) levelRange {
	s := of(glass, k)
	s.less, s.more = make([]float64, len(s.lo)), make([]float64, len(s.lo))
	for _, by := range []float64{-angleErrorDeg(), angleErrorDeg()} {
		beside := of(glass, k.at(min(math.Abs(k.angleDeg+by), grazingDeg)))
		for i := range beside.lo {
			s.less[i], s.more[i] = max(s.less[i], s.lo[i]-beside.lo[i]), max(s.more[i], beside.hi[i]-s.hi[i])
		}
	}
	return s
}

// levels are the ranges of one pane at one angle in one polarisation, computed when first needed.
type levels struct {
	bareOnce, filmOnce sync.Once
	bare, film         levelRange // empty where they cannot be computed
}

// key returns the coupon and the key of the level at a place. ok is false if no level is expected there.
func (g *Guard) key(p *study.Place) (c *guarded, k levelKey, ok bool) {
	c = g.coupons[p.Coupon]
	if c == nil || c.glass == nil || p.Quantity != study.Reflectance || !(p.AngleDeg >= 0 && p.AngleDeg < 90) {
		return nil, k, false
	}
	return c, levelKey{c.Glass, c.Back, c.stated, c.glass.ThicknessMM, p.AngleDeg, p.Polarisation}, true
}

// at returns k at another angle.
func (k levelKey) at(angleDeg float64) levelKey {
	k.angleDeg = angleDeg
	return k
}

// entry returns the levels of k.
func (g *Guard) entry(k levelKey) *levels {
	if v, ok := g.levels.Load(k); ok {
		return v.(*levels)
	}
	v, _ := g.levels.LoadOrStore(k, &levels{})
	return v.(*levels)
}

// bare returns the range of the pane without a film.
func (g *Guard) bare(glass *film.Glass, k levelKey) levelRange {
	l := g.entry(k)
	l.bareOnce.Do(func() { l.bare = spanWithAngleError(glass, k, bareRange) })
	return l.bare
}

// film returns the range of the pane with any film.
func (g *Guard) film(glass *film.Glass, k levelKey) levelRange {
	l := g.entry(k)
	l.filmOnce.Do(func() { l.film = spanWithAngleError(glass, k, filmRange) })
	return l.film
}

// shares returns the lowest and the highest s share that a beam may have.
func shares(polarisation string) (lo, hi float64, ok bool) {
	pol, native, err := evaluate.Beam(polarisation)
	if err != nil {
		return 0, 0, false
	}
	lo, hi = float64(pol), float64(pol)
	if native {
		reach := nativeSigmas * film.DefaultSession().UShare
		lo, hi = lo-reach, hi+reach
	}
	return lo, hi, true
}

// knownNM returns the part of the solar band, in nm, at which the index of a glass and what its far face returns are known.
func knownNM(glass *film.Glass) (lo, hi float64) {
	lo, hi = glass.Index.RangeNM()
	if glass.Back == optics.Laminated {
		from, to := glass.Return.RangeNM()
		lo, hi = max(lo, from), min(hi, to)
	}
	return max(lo, evaluate.SolarLoNM), min(hi, evaluate.SolarHiNM)
}

// knownBands returns the bands of 50 nm within the known part of the solar band.
func knownBands(glass *film.Glass) (firstNM, n int) {
	lo, hi := knownNM(glass)
	firstNM = int(math.Ceil(lo/study.BandNM)) * study.BandNM
	return firstNM, (int(hi) - firstNM) / study.BandNM
}

// bareRange computes the range of a pane without a film from [optics.Pane]. Beyond 15 degrees the instrument may
// miss part or all of the return of the far face. A coated far face may still carry its film.
func bareRange(glass *film.Glass, k levelKey) levelRange {
	lo, hi := knownNM(glass)
	least, most, ok := shares(k.polarisation)
	var nm []float64
	for x := math.Ceil(lo/bareStepNM) * bareStepNM; x <= hi; x += bareStepNM {
		nm = append(nm, x)
	}
	backs := []optics.Back{glass.Back}
	if k.angleDeg > wholeReturnDeg || glass.Back == optics.Coated {
		backs = append(backs, optics.Matched)
	}
	var s levelRange
	for _, back := range backs {
		for _, share := range slices.Compact([]float64{least, most}) {
			r, _, err := optics.Pane{Glass: glass.Index, GlassMM: glass.ThicknessMM, Back: back,
				Far: glass.Return}.RT(nil, nil, nm, k.angleDeg,
				optics.Polarisation(share))
			if err != nil || !ok {
				return levelRange{}
			}
			first, means := bandMeans(nm, r)
			s.widen(first, means, means)
		}
	}
	return s
}

// widen extends the range to levels of the same bands.
func (s *levelRange) widen(firstNM int, lo, hi []float64) {
	if s.lo == nil {
		s.firstNM, s.lo, s.hi = firstNM, append([]float64(nil), lo...), append([]float64(nil), hi...)
		return
	}
	for i := range s.lo {
		s.lo[i], s.hi[i] = min(s.lo[i], lo[i]), max(s.hi[i], hi[i])
	}
}

// filmRange computes the range of a pane with any film: in each band the lowest and the highest of all films.
func filmRange(glass *film.Glass, k levelKey) levelRange {
	first, n := knownBands(glass)
	var s levelRange
	eachFilm(glass, k, first, n, func(lo, hi []float64) { s.widen(first, lo, hi) })
	return s
}

// eachFilm calls do for each possible film with the lowest and the highest reflectance of the pane under it, in the
// middle of n bands. The order of the films is always the same. The front is that of [optics.Surface]; the return
// of the far face is the sum over its passes as in [optics.Pane.Return], with the same film on a coated far face.
// do is not called if the reflectance cannot be computed.
func eachFilm(glass *film.Glass, k levelKey, firstNM, n int, do func(lo, hi []float64)) {
	least, most, ok := shares(k.polarisation)
	if !ok || n <= 0 {
		return
	}
	nm := make([]float64, n)
	for i := range nm {
		nm[i] = float64(firstNM) + (float64(i)+0.5)*study.BandNM
	}
	face, err := optics.NewSurface(nm, k.angleDeg, glass.Index)
	if err != nil {
		return
	}
	backS, backP, err := farSide(glass, k, nm, face)
	if err != nil {
		return
	}
	s, p := front(n), front(n)
	eps, lo, hi := make([]float64, n), make([]float64, n), make([]float64, n)
	for index := filmIndexLo; index < filmIndexHi+filmIndexStep/2; index += filmIndexStep {
		for i := range eps {
			eps[i] = index * index
		}
		for d := 0.0; d <= filmThickNM; d += filmStepNM {
			face.Film(s, p, d, eps)
			for i := range nm {
				rs, rp := s.R[i], p.R[i]
				ws, wp := rs+backS(i, rs), rp+backP(i, rp)
				if k.angleDeg <= wholeReturnDeg {
					rs, rp = ws, wp
				}
				lo[i] = min(least*rs+(1-least)*rp, most*rs+(1-most)*rp)
				hi[i] = max(least*ws+(1-least)*wp, most*ws+(1-most)*wp)
			}
			do(lo, hi)
		}
	}
}

// front returns a response of n wavelengths without memory for the derivatives by angle and glass.
func front(n int) optics.FilmResponse {
	return optics.FilmResponse{R: make([]float64, n), DNM: make([]float64, n), DEps: make([]float64, n)}
}

// farSide returns two functions, for s and p: the return of the far face at wavelength i if the front reflects rho.
func farSide(glass *film.Glass, k levelKey, nm []float64, face *optics.Surface) (s,
	p func(i int, rho float64) float64, err error) {
	pane := optics.Pane{Glass: glass.Index, GlassMM: glass.ThicknessMM, Back: glass.Back, Far: glass.Return}
	passes := func(rho, beta float64) float64 { return (1 - rho) * (1 - rho) * beta / (1 - rho*beta) }
	switch glass.Back {
	case optics.Matched:
		none := func(int, float64) float64 { return 0 }
		return none, none, nil
	case optics.Coated:
		round, err := pane.RoundTrip(nm, k.angleDeg)
		coated := func(i int, rho float64) float64 { return passes(rho, round[i]*rho) }
		return coated, coated, err
	}
	betaS, betaP, err := pane.Return(nm, k.angleDeg)
	return func(i int, rho float64) float64 { return passes(rho, betaS[i]) },
		func(i int, rho float64) float64 { return passes(rho, betaP[i]) }, err
}

// outliers describes where a reading lies outside a range: the number of bands that both have, the number of those
// outside, and the means over the latter of the level and of the limits of the range.
type outliers struct {
	bands, out    int
	level, lo, hi float64
	limit         float64 // mean margin, on the side on which each band lies
	fromNM        int     // beginning of the first band outside
}

// compare compares a reading, multiplied by times, with the range, multiplied by factor. The reading lies outside
// if at least 1 of bandsPerOutlier bands does.
func (s levelRange) compare(t *study.Traits, times, factor float64, m margin) (mis outliers, outside bool) {
	for i := range s.lo {
		nm := s.firstNM + i*study.BandNM
		v, ok := band(t, nm)
		if !ok {
			continue
		}
		mis.bands++
		v *= times
		lo, hi := factor*s.lo[i], factor*s.hi[i]
		below, above := m.besideTurned(lo, factor*s.less[i]), m.besideTurned(hi, factor*s.more[i])
		if v >= lo-below && v <= hi+above {
			continue
		}
		if mis.out++; mis.out == 1 {
			mis.fromNM = nm
		}
		mis.level, mis.lo, mis.hi = mis.level+v, mis.lo+lo, mis.hi+hi
		if v < lo {
			mis.limit += below
		} else {
			mis.limit += above
		}
	}
	if mis.out > 0 {
		n := float64(mis.out)
		mis.level, mis.lo, mis.hi, mis.limit = mis.level/n, mis.lo/n, mis.hi/n, mis.limit/n
	}
	return mis, mis.out > 0 && bandsPerOutlier*mis.out >= mis.bands
}

// where names the bands that lie outside; empty if all do.
func (m *outliers) where() string {
	if m.out == m.bands {
		return ""
	}
	return fmt.Sprintf(" (in %d of %d bands of %d nm, the first from %d nm on)", m.out, m.bands, study.BandNM, m.fromNM)
}

// level judges the level of one reading. It returns the guard and the reason, which is empty if nothing is wrong.
func (g *Guard) level(r *study.Reading) (word, reason string) {
	c, k, ok := g.key(&r.Place)
	if !ok {
		return levelWord, ""
	}
	possible, m := g.bare(c.glass, k), marginOf(c, &r.Place)
	if c.Role.Coated() {
		possible = g.film(c.glass, k)
	}
	mis, outside := possible.compare(&r.Traits, 1, 1, m)
	if times, off := scaleOff(c, k, &r.Traits, possible, m, mis, outside); off {
		return scaleWord, scaleReason(c, &r.Traits, possible, times)
	}
	if !outside {
		return levelWord, ""
	}
	at := fmt.Sprintf("%s reflects %s at %g degrees, %s", c.Glass, percentRange(mis.lo, mis.hi), r.AngleDeg,
		r.Polarisation)
	if c.Role.Coated() {
		return levelWord, fmt.Sprintf("the level is %s%s where %s, whatever film is on it; the limit is %s outside",
			percent(mis.level), mis.where(), at, points(mis.limit))
	}
	reason = fmt.Sprintf("the level is %s%s where bare %s; the limit is %s off", percent(mis.level), mis.where(), at,
		points(mis.limit))
	if lo, hi, ok := g.angleThatFits(c, k, &r.Traits, 1); ok {
		reason += fmt.Sprintf("; it would fit %s, or a reference or detector is off", angles(lo, hi))
	}
	return levelWord, reason
}

// scaleOff returns the factor, 100 or 1/100, by which a reading must be multiplied to have a possible level. off is
// false if it needs none. At levels near 0, as for p near Brewster's angle, every value divided by 100 is near the
// level, so the least margin does not count. A film can bring the reflectance of one band near 0, but not that of
// all bands, so the lowest mean over the bands of the reading counts.
func scaleOff(c *guarded, k levelKey, t *study.Traits, possible levelRange, m margin, mis outliers,
	outside bool) (times float64, off bool) {
	mean, least, most := possible.means(t)
	small := c.Role.Coated() && mean > 0 && 100*mean <= most+m.beside(most)
	if mis.bands == 0 || !outside && !small {
		return 0, false
	}
	if c.Role.Coated() {
		least = math.Inf(1)
		for _, v := range filmMeans(c.glass, k, t) {
			least = min(least, v.lo)
		}
	}
	m.least, m.u = 0, 0
	for _, by := range []float64{100, 1. / 100} {
		if _, out := possible.compare(t, by, 1, m); out || by*mean < leastPart*least {
			continue
		}
		if outside || mean < shrunkenPart*least {
			return by, true
		}
	}
	return 0, false
}

// scaleReason returns the reason of the guard scale.
func scaleReason(c *guarded, t *study.Traits, possible levelRange, times float64) string {
	mean, lo, hi := possible.means(t)
	taken, are := "percent", "fractions"
	if times < 1 {
		taken, are = "fractions", "percent"
	}
	glass := "bare " + c.Glass
	if c.Role.Coated() {
		glass = c.Glass + " under a film"
	}
	return fmt.Sprintf("taken as %s, the level is %s where %s reflects %s: the numbers seem to be %s", taken,
		percent(mean), glass, percentRange(lo, hi), are)
}

// means returns the means of a reading and of a range over the bands that both have.
func (s levelRange) means(t *study.Traits) (mean, lo, hi float64) {
	n := 0.0
	for i := range s.lo {
		if v, ok := band(t, s.firstNM+i*study.BandNM); ok {
			mean, lo, hi, n = mean+v, lo+s.lo[i], hi+s.hi[i], n+1
		}
	}
	if n == 0 {
		return 0, 0, 0
	}
	return mean / n, lo / n, hi / n
}

// filmLevel is the lowest and the highest mean level under one film.
type filmLevel struct{ lo, hi float64 }

// commonBands returns the bands that two runs of n and m bands have in common.
func commonBands(firstNM, n, otherNM, m int) (int, int) {
	first := max(firstNM, otherNM)
	end := min(firstNM+n*study.BandNM, otherNM+m*study.BandNM)
	return first, max(0, (end-first)/study.BandNM)
}

// filmMeans returns the mean levels under each film over the bands of a reading at which the index of the
// glass is known.
func filmMeans(glass *film.Glass, k levelKey, t *study.Traits) []filmLevel {
	known, n := knownBands(glass)
	first, n := commonBands(t.FirstBandNM, len(t.Bands), known, n)
	var all []filmLevel
	eachFilm(glass, k, first, n, func(lo, hi []float64) {
		var sum filmLevel
		for i := range lo {
			sum.lo, sum.hi = sum.lo+lo[i]/float64(n), sum.hi+hi[i]/float64(n)
		}
		all = append(all, sum)
	})
	return all
}

// angleThatFits returns the range of angles, in whole degrees and nearest to that of k, at which the level of the
// reading is possible times factor. ok is false if there is none, or if the level hardly depends on the angle.
func (g *Guard) angleThatFits(c *guarded, k levelKey, t *study.Traits, factor float64) (lo, hi float64, ok bool) {
	fits := func(deg float64) bool {
		if deg < 0 || deg > maxDeg {
			return false
		}
		possible := g.bare(c.glass, k.at(deg))
		if c.Role.Coated() {
			possible = g.film(c.glass, k.at(deg))
		}
		mis, outside := possible.compare(t, 1, factor, fitMargin)
		return mis.bands > 0 && !outside
	}
	stated := math.Round(k.angleDeg)
	for by := 1.0; by <= maxDeg; by++ {
		for _, deg := range []float64{stated - by, stated + by} {
			if !fits(deg) {
				continue
			}
			if !g.angleMatters(c, k) && !g.angleMatters(c, k.at(deg)) {
				return 0, 0, false
			}
			lo, hi = deg, deg
			for fits(lo - 1) {
				lo--
			}
			for fits(hi + 1) {
				hi++
			}
			return lo, hi, true
		}
	}
	return 0, 0, false
}

// angleMatters reports whether the level of bare glass changes enough with the angle to judge the angle.
func (g *Guard) angleMatters(c *guarded, k levelKey) bool {
	other := k.angleDeg + mattersDeg
	if other > maxDeg {
		other = k.angleDeg - mattersDeg
	}
	here, there := g.bare(c.glass, k), g.bare(c.glass, k.at(other))
	var a, b float64
	for i := range here.lo {
		a, b = a+here.lo[i], b+there.lo[i]
	}
	return math.Abs(b-a) >= mattersPart*a
}

// angles writes the angles from lo to hi.
func angles(lo, hi float64) string {
	if lo == hi {
		return fmt.Sprintf("%g degrees", lo)
	}
	return fmt.Sprintf("%g to %g degrees", lo, hi)
}
