package difference

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/population"
)

// Sentence says in plain words what a comparison says of a pair, with its interval. It has no full stop.
func (c *Comparison) Sentence(p *Pair) string {
	a, b := study.Shown(c.Groups[p.A].Name), study.Shown(c.Groups[p.B].Name)
	if p.Verdict == CannotTell {
		return fmt.Sprintf("Whether %s and %s differ cannot be told from these data, because %s", a, b, p.Why.Because)
	}
	places := Decimals(p.U)
	interval := fmt.Sprintf("interval %s to %s", number(p.Lower, places), c.withUnit(number(p.Upper, places)))
	said := ""
	switch p.Verdict {
	case Different, DifferentWithin:
		said = fmt.Sprintf("%s is %s than %s: its %s is %s %s (%s, adjusted p %s)", a, c.rank(p), b, c.what(),
			c.withUnit(number(math.Abs(p.Difference), places)), higher(p), interval, Chance(p.PAdjusted))
		if p.Verdict == DifferentWithin {
			said += fmt.Sprintf("; the difference is real, and within the margin of %s (adjusted p %s)", c.margin(),
				Chance(p.PEquivalentAdjusted))
		}
	case Equivalent:
		said = fmt.Sprintf("%s and %s are equivalent within %s in their %s (%s, adjusted p %s)", a, b, c.margin(), c.what(),
			interval, Chance(p.PEquivalentAdjusted))
	default:
		said = fmt.Sprintf("%s and %s cannot be distinguished in their %s: they differ by %s (%s); a difference below %s "+
			"can stay unseen", a, b, c.what(), c.withUnit(number(p.Difference, places)), interval,
			c.withUnit(number(p.LeastDetectable, places)))
		if c.Margin > 0 {
			said += fmt.Sprintf("; nor are they shown to be equivalent within %s", c.margin())
		}
	}
	if p.Is(FlagWeighting) {
		said += fmt.Sprintf("; by %s the verdict is another one", map[string]string{"solar_T": "photons (cell_T)",
			"cell_T": "energy (solar_T)"}[c.Quantity.Name])
	}
	if c.InRate && p.Is(FlagSurvivors) {
		said += "; the later values are those of the coupons that were left"
	}
	return c.scope(p) + said
}

// scope says of what a verdict holds, where it is less than it seems.
func (c *Comparison) scope(p *Pair) string {
	switch lots, left := p.Is(FlagTheseLots), p.Is(FlagSurvivors) && !c.InRate; {
	case lots && left:
		return "Of the coupons that were left of these lots, "
	case lots:
		return "Of these lots, "
	case left:
		return "Of the coupons that were left, "
	}
	return ""
}

// what names what is compared.
func (c *Comparison) what() string {
	if c.InRate {
		return "rate of " + c.Quantity.Name
	}
	return "change of " + c.Quantity.Name
}

// rank says how the first group of a different pair stands, where ageing has a direction.
func (c *Comparison) rank(p *Pair) string {
	switch worse := float64(c.Quantity.Worse) * p.Difference; {
	case worse > 0:
		return "worse"
	case worse < 0:
		return "better"
	case p.Difference < 0:
		return "lower"
	}
	return "higher"
}

func higher(p *Pair) string {
	if p.Difference < 0 {
		return "lower"
	}
	return "higher"
}

// withUnit writes the unit of differences behind a number.
func (c *Comparison) withUnit(number string) string { return strings.TrimSpace(number + " " + c.Unit) }

func (c *Comparison) margin() string {
	return c.withUnit("±" + strconv.FormatFloat(c.Margin, 'g', -1, 64))
}

// Decimals returns the decimal places that show two significant digits of an uncertainty.
func Decimals(u float64) int {
	if !(u > 0) {
		return 3
	}
	return min(max(1-int(math.Floor(math.Log10(u))), 0), 9)
}

// number writes a number with so many decimal places; what rounds to zero has no sign.
func number(x float64, places int) string {
	s := strconv.FormatFloat(x, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// Chance writes a chance with two significant digits, none below 0.0001.
func Chance(p float64) string {
	switch {
	case math.IsNaN(p):
		return "-"
	case p < 0.0001:
		return "below 0.0001"
	case p < 0.1:
		return strconv.FormatFloat(p, 'g', 2, 64)
	}
	return strconv.FormatFloat(p, 'f', 2, 64)
}

// Lost names the coupons of a group that are not in its mean, and why; empty: there are none.
func (g *Group) Lost() string {
	var words []string
	for _, list := range [][]Without{g.Ended, g.Missing} {
		for _, w := range list {
			words = append(words, study.Shown(w.Coupon)+" ("+w.Why+")")
		}
	}
	return strings.Join(words, ", ")
}

// Count says how many of what a group has: 6 coupons of 2 lots.
func (g *Group) Count() string {
	plural := func(n int, word string) string {
		if n == 1 {
			return "1 " + word
		}
		return fmt.Sprintf("%d %ss", n, word)
	}
	if g.Unit == population.UnitLot {
		return plural(g.Units, "lot") + ", " + plural(g.Coupons, "coupon")
	}
	return plural(g.Coupons, "coupon")
}
