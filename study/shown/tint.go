package shown

import (
	"fmt"

	"wane/optics/colour"
	"wane/study"
	"wane/study/desk"
	"wane/study/tint"
)

// LightWords are the lights under which a tint is seen.
func LightWords() (words []string) {
	for _, l := range colour.Lights {
		words = append(words, l.String())
	}
	return words
}

// TintRow is a film at one angle.
type TintRow struct {
	*desk.TintFilm
	*desk.Tinted
}

// TintRows are the films of a card, each at each angle.
func TintRows(card *desk.TintCard) (rows []*TintRow) {
	for i := range card.Films {
		for k := range card.Films[i].At {
			rows = append(rows, &TintRow{&card.Films[i], &card.Films[i].At[k]})
		}
	}
	return rows
}

// Tints are the columns of a card as a table.
func Tints() List[*TintRow] {
	type row = TintRow
	number := func(name string, rank int, head string, places int, of func(r *row) float64) Column[*row] {
		return Value(name, func(r *row) any { return OrNil(study.Num(of(r))) }).
			Ranked(rank, head, func(r *row) string { return Decimal(study.Num(of(r)), places) })
	}
	return List[*row]{
		Value("coating", func(r *row) any { return r.Coating }).Ranked(1, "", nil),
		Value("glass", func(r *row) any { return r.Glass }),
		Value("exposure", func(r *row) any { return r.Exposure }).Ranked(5, "", nil),
		Value("pull", func(r *row) any { return r.Pull }).Ranked(1, "", nil),
		Value("coupons", func(r *row) any { return r.Coupons }),
		Value("spots", func(r *row) any { return r.Spots }),
		number("gain_kept", 1, "gain kept", 3, func(r *row) float64 { return float64(r.GainKept) }),
		number("thickness_nm", 2, "thickness / nm", 1, func(r *row) float64 { return r.ThicknessNM }),
		number("porosity", 0, "", 3, func(r *row) float64 { return r.Porosity }),
		number("bare_fraction", 0, "", 3, func(r *row) float64 { return r.Bare }),
		number("angle_deg", 1, "angle / °", 0, func(r *row) float64 { return r.AngleDeg }),
		number("luminance_percent", 2, "luminance / %", 2, func(r *row) float64 { return r.Now.Luminance }),
		number("L", 3, "L*", 1, func(r *row) float64 { return r.Now.Lab.L }),
		number("a", 3, "a*", 1, func(r *row) float64 { return r.Now.Lab.A }),
		number("b", 3, "b*", 1, func(r *row) float64 { return r.Now.Lab.B }),
		Value("screen", func(r *row) any { return HexColour(r.Now.Screen) }).Ranked(4, "", nil),
		Value("screen_shows_it", func(r *row) any { return r.Now.Within }),
	}
}

// HexColour writes a colour of a screen: #7fa3c2.
func HexColour(c colour.RGB) string {
	level := func(v float64) int { return int(255*v + 0.5) }
	return fmt.Sprintf("#%02x%02x%02x", level(c.R), level(c.G), level(c.B))
}

// TintHead says how a card is to be read.
func TintHead(card *desk.TintCard) string {
	return fmt.Sprintf("light %s, white sheet under it; L*, a*, b* in so much light that bare glass has L* %d; "+
		"luminance is the true one", card.Light, tint.GlassL)
}

// TintMatch is an interval of thicknesses that a tint cannot exclude; without one, the film that comes nearest.
type TintMatch struct {
	*desk.TintMatch
	interval tint.Interval
	found    bool
}

// TintMatchRows are the intervals of each coating, and the coatings that have none.
func TintMatchRows(matches []desk.TintMatch) (rows []*TintMatch, none []string) {
	for i := range matches {
		m := &matches[i]
		if len(m.Intervals) == 0 {
			none, rows = append(none, m.Coating), append(rows, &TintMatch{m, m.Nearest, false})
		}
		for _, interval := range m.Intervals {
			rows = append(rows, &TintMatch{m, interval, true})
		}
	}
	return rows, none
}

// TintMatches are the columns of what a measured tint can come from.
func TintMatches() List[*TintMatch] {
	type row = TintMatch
	number := func(name, head string, places int, of func(r *row) float64) Column[*row] {
		return Value(name, func(r *row) any { return of(r) }).
			Ranked(1, head, func(r *row) string { return Decimal(study.Num(of(r)), places) })
	}
	end := func(name, head string, of func(r *row) float64) Column[*row] {
		return Value(name, func(r *row) any {
			if !r.found {
				return nil
			}
			return of(r)
		}).Ranked(1, head, func(r *row) string {
			if !r.found {
				return "-"
			}
			return Decimal(study.Num(of(r)), 0)
		})
	}
	return List[*row]{
		Value("coating", func(r *row) any { return r.Coating }).Ranked(1, "", nil),
		Value("glass", func(r *row) any { return r.Glass }),
		end("from_nm", "from / nm", func(r *row) float64 { return r.interval.LoNM }),
		end("to_nm", "to / nm", func(r *row) float64 { return r.interval.HiNM }),
		number("nearest_nm", "nearest / nm", 0, func(r *row) float64 { return r.interval.Nearest.ThicknessNM }),
		number("difference", "its difference", 1, func(r *row) float64 { return r.interval.Difference }),
		number("nearest_porosity", "", 2, func(r *row) float64 { return r.interval.Nearest.Porosity }),
		number("nearest_bare_fraction", "", 2, func(r *row) float64 { return r.interval.Nearest.Bare }),
	}
}

// TintMatchHead says what the list of a measured tint means.
func TintMatchHead(opt *desk.TintOptions, measured *tint.Measured) string {
	return fmt.Sprintf("at %g degrees under %s; thicknesses that cannot be excluded: their tint differs by at most "+
		"%.1f (CIEDE2000, twice the spread of %.1f with 1 for the model)", opt.Angles[0], opt.Light,
		tint.Allowed(measured.Spread), measured.Spread)
}

// NoTintWords say why no film of some coatings may have a tint.
func NoTintWords(coatings string) string {
	return "no film of " + coatings + " has this tint: dust, water or grease may be on it, the far " +
		"face of the glass may shine through, or light and angle are others; see wane help reading-tints"
}
