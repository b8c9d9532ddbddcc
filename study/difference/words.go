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
		return fmt.Sprintf("whether %s and %s differ cannot be told from these data, because %s", a, b, p.Why.Because)
	}
	places := Decimals(p.U)
	between := fmt.Sprintf("%s to %s %s", number(p.Lower, places), number(p.Upper, places), c.Unit)
	between = strings.TrimSpace(between)
	where := ""
	if p.Is(FlagTheseLots) {
		where = "of these lots, "
	}
	switch p.Verdict {
	case Different, DifferentWithin:
		said := fmt.Sprintf("%s%s is %s: its %s is %s %s than that of %s (difference %s, adjusted p %s)", where, a, c.rank(p), c.what(),
			c.size(p, places), higher(p), b, between, Chance(p.PAdjusted))
		if p.Verdict == DifferentWithin {
			said += fmt.Sprintf("; the difference is real, and within the margin of %s (adjusted p %s)", c.margin(),
				Chance(p.PEquivalentAdjusted))
		}
		return said
	case Equivalent:
		return fmt.Sprintf("%s%s and %s are equivalent within %s in %s (difference %s, adjusted p %s)", where, a, b, c.margin(),
			c.what(), between, Chance(p.PEquivalentAdjusted))
	}
	said := fmt.Sprintf("%s%s and %s cannot be distinguished in %s (difference %s); a difference below %s can stay unseen", where, a, b,
		c.what(), between, strings.TrimSpace(fmt.Sprintf("%s %s", number(p.LeastDetectable, places), c.Unit)))
	if c.Margin > 0 {
		said += fmt.Sprintf("; nor are they shown to be equivalent within %s", c.margin())
	}
	return said
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
	}
	return "different"
}

func higher(p *Pair) string {
	if p.Difference < 0 {
		return "lower"
	}
	return "higher"
}

func (c *Comparison) size(p *Pair, places int) string {
	return strings.TrimSpace(fmt.Sprintf("%s %s", number(math.Abs(p.Difference), places), c.Unit))
}

func (c *Comparison) margin() string {
	return strings.TrimSpace(fmt.Sprintf("±%s %s", strconv.FormatFloat(c.Margin, 'g', -1, 64), c.Unit))
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
