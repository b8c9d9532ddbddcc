package film

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"wane/optics"
)

// How the curves go on where nobody looked depends on the dispersion assumed. The
// alternatives are the same film by the other mixing rules, whose dispersions differ.
// Those that explain the curves as well (see
// equalRise) are drawn with equal chances. It is no more than that: an absorption, or a
// gradient of the index, that shows only outside the wavelengths seen is not in it.

var mixings = []optics.Mixing{optics.Bruggeman, optics.MaxwellGarnett, optics.LorentzLorenz, optics.VolumeAverage}

// fillAlternatives computes the alternatives of p and fills p.unseen and p.share.
func (b *Budget) fillAlternatives(ctx context.Context, p *budgetReading) error {
	if b.Unseen == nil {
		return nil
	}
	v := p.v
	seen, own := v.seen(), v.model.spot.Coating
	mean := func(m *model, x []float64, c Coating) (float64, error) {
		probe, err := b.Unseen(seen, c)
		if probe == nil || err != nil {
			return 0, err
		}
		p.share = probe.weights()
		g := m.filmAt(x)
		return probe.mean(x, &g).value, nil
	}
	physical, full := v.physical()
	reference, err := mean(physical, full.x, own)
	if err != nil {
		return err
	}
	add := func(m *model, s *solution, c Coating) error {
		if s.cost > full.cost+equalRise*full.inflation() {
			p.unseen = append(p.unseen, math.NaN())
			return nil
		}
		value, err := mean(m, s.x, c)
		p.unseen = append(p.unseen, value-reference)
		return err
	}
	for _, rule := range mixings {
		m, s, c := physical, full, own
		if rule != own.Mixing {
			spot := p.spot()
			spot.Coating.Mixing = rule
			w, err := Fit(ctx, spot)
			if err != nil {
				return err
			}
			c = spot.Coating
			m, s = w.physical()
		}
		if err := add(m, s, c); err != nil {
			return err
		}
	}
	return nil
}

// drawAlternative returns a draw of one alternative among those that explain all readings.
func (l *budgetTask) drawAlternative() func(*rand.Rand, []drawnInput) {
	var usable []int
	for k := range l.readings[0].unseen {
		if !slices.ContainsFunc(l.readings, func(p *budgetReading) bool { return math.IsNaN(p.unseen[k]) }) {
			usable = append(usable, k)
		}
	}
	return func(rng *rand.Rand, to []drawnInput) {
		k := usable[rng.IntN(len(usable))]
		for i := range to {
			to[i].unseen = l.readings[i].unseen[k]
		}
	}
}

// seen returns the range from the shortest to the longest wavelength of the curves.
func (v *Verdict) seen() Window {
	w := Window{math.Inf(1), 0}
	for i := range v.model.spot.Curves {
		nm := v.model.spot.Curves[i].NM
		w.LoNM, w.HiNM = min(w.LoNM, nm[0]), max(w.HiNM, nm[len(nm)-1])
	}
	return w
}
