package shown

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// CouponLine says how one coupon stands: what was read last, and what became of its film.
type CouponLine struct {
	Coupon            string
	Role              study.Role
	Coating, Exposure string
	Pulls, Read       int // that are planned; of these, those with a spot that is read
	LastPull          int // the last one with a spot that is read; -1: none
	Ended             string
	Attention         []string // words of [desk.AttentionWords] at any pull, without what follows a colon

	Last *LastResults // of the last pull with results; nil: not known
}

// LastResults are the results of a coupon at the last pull that has some.
type LastResults struct {
	Pull   int
	States []study.State // of its spots
	Least  study.Measure // the lowest corrected change of a spot, pp
	Flags  int           // spots with flags
}

// CouponLines makes a line of each coupon, in the order of rows, which are those of status. last may be nil.
func CouponLines(rows []desk.CouponPull, last map[string]*LastResults) (lines []CouponLine) {
	for i := range rows {
		r := &rows[i]
		if len(lines) == 0 || lines[len(lines)-1].Coupon != r.Coupon {
			lines = append(lines, CouponLine{Coupon: r.Coupon, Role: r.Role, Coating: r.Coating, Exposure: r.Exposure,
				LastPull: -1, Last: last[r.Coupon]})
		}
		l := &lines[len(lines)-1]
		l.Pulls++
		if r.SpotsRead > 0 {
			l.Read, l.LastPull = l.Read+1, r.Pull
		}
		if r.Ended != "" {
			l.Ended = r.Ended
		}
		for _, word := range r.Attention {
			if word, _, _ := strings.Cut(word, ":"); !slices.Contains(l.Attention, word) {
				l.Attention = append(l.Attention, word)
			}
		}
	}
	return lines
}

// Add takes a row of results, which come in the order of pulls.
func (l *LastResults) Add(r *study.Result) {
	if pull := int(r.Pull); len(l.States) == 0 || pull > l.Pull {
		*l = LastResults{Pull: pull, Least: study.NoMeasure()}
	}
	l.States = append(l.States, r.State)
	if len(r.Flags) > 0 {
		l.Flags++
	}
	if v := r.CorrectedChange.Value; v.Valid() && !(l.Least.Value <= v) {
		l.Least = r.CorrectedChange
	}
}

// stateCounts says how many spots are in each state.
func (l *LastResults) stateCounts() string {
	if l == nil {
		return "-"
	}
	var words []string
	for _, s := range append(study.States(), "") {
		n := 0
		for _, of := range l.States {
			if of == s {
				n++
			}
		}
		if n > 0 {
			words = append(words, fmt.Sprintf("%d %s", n, Dash(string(s))))
		}
	}
	return strings.Join(words, ", ")
}

// Coupons is the columns of a list of coupons.
func Coupons() List[*CouponLine] {
	ofLast := func(of func(*LastResults) any) func(*CouponLine) any {
		return func(l *CouponLine) any {
			if l.Last == nil {
				return nil
			}
			return of(l.Last)
		}
	}
	return List[*CouponLine]{
		Value("coupon", func(l *CouponLine) any { return l.Coupon }).Ranked(1, "", nil),
		Value("role", func(l *CouponLine) any { return string(l.Role) }).Ranked(4, "", nil),
		Value("coating", func(l *CouponLine) any { return OrEmpty(l.Coating) }).Ranked(1, "", nil),
		Value("exposure", func(l *CouponLine) any { return OrEmpty(l.Exposure) }).Ranked(1, "", nil),
		Value("pulls_read", func(l *CouponLine) any { return l.Read }).Ranked(1, "pulls read",
			func(l *CouponLine) string { return fmt.Sprintf("%d of %d", l.Read, l.Pulls) }),
		Value("pulls", func(l *CouponLine) any { return l.Pulls }),
		Value("last_pull", func(l *CouponLine) any {
			if l.LastPull < 0 {
				return nil
			}
			return l.LastPull
		}).Ranked(6, "last pull", nil),
		Value("states", func(l *CouponLine) any { return ofLast(func(r *LastResults) any { return r.stateCounts() })(l) }).
			Ranked(1, "its spots", nil),
		Value("lowest_corrected_change_pp", ofLast(func(r *LastResults) any { return OrNil(r.Least.Value) })).
			Ranked(1, "lowest change / pp", func(l *CouponLine) string {
				if l.Last == nil {
					return "-"
				}
				return PlusMinus(l.Last.Least, 1, "")
			}),
		Value("u_lowest_corrected_change_pp", ofLast(func(r *LastResults) any { return OrNil(r.Least.U) })),
		Value("spots_flagged", ofLast(func(r *LastResults) any { return r.Flags })).
			Ranked(4, "flagged", func(l *CouponLine) string {
				if l.Last == nil {
					return "-"
				}
				return OrDash(l.Last.Flags)
			}),
		Value("ended", func(l *CouponLine) any { return OrEmpty(l.Ended) }).Ranked(5, "", nil),
		Value("attention", func(l *CouponLine) any { return append([]string{}, l.Attention...) }).Ranked(1, "needs attention",
			func(l *CouponLine) string { return Dash(strings.Join(l.Attention, ", ")) }),
	}
}
