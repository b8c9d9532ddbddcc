package bench_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/bench"
)

// roster has so many exposed coupons on a roof and a wall, controls and blanks. Made up.
func roster(exposed int) *study.Roster {
	r := &study.Roster{Coupons: []study.Coupon{{Coupon: "B1", Role: study.Blank}, {Coupon: "K1", Role: study.Control, Coating: "a"},
		{Coupon: "KR", Role: study.Control, Coating: "b", Exposure: "roof"}, {Coupon: "KW", Role: study.Control, Exposure: "wall"},
		{Coupon: "W1", Role: study.Exposed, Exposure: "wall"}},
		Standards: []study.Standard{{Standard: "tile", Quantity: "R", AngleDeg: 8}, {Standard: "tile", Quantity: "R", AngleDeg: 45},
			{Standard: "hole", Quantity: study.Zero, AngleDeg: 8}},
		Sessions: []study.Session{{Session: "S-1", Reference: "mirror"}}}
	for i := range exposed {
		r.Coupons = append(r.Coupons, study.Coupon{Coupon: fmt.Sprintf("E%03d", i), Role: study.Exposed, Exposure: "roof"})
	}
	return r
}

func draw(t *testing.T, w bench.Wanted, r *study.Roster) *study.Sheet {
	t.Helper()
	w.Exposure = "roof"
	if w.AnglesDeg == nil {
		w.AnglesDeg, w.Spots = []float64{45, 8}, []string{"1", "2"}
	}
	s, err := bench.Draw(w, r, bench.Before{})
	require.NoError(t, err)
	return s
}

func codes(lines []study.SheetLine) (all []string) {
	for _, l := range lines {
		all = append(all, l.Code)
	}
	return all
}

// Reference and check standards come first, check standards last, and all that goes with the exposure once between them.
func TestOrder(t *testing.T) {
	s := draw(t, bench.Wanted{Seed: 5, Session: "S-1"}, roster(9))
	require.Len(t, s.Lines, 2+9+4+1)
	assert.Equal(t, study.SheetLine{Kind: study.SheetReference, Code: "mirror"}, s.Lines[0])
	check := study.SheetLine{Kind: study.SheetCheck, Code: "tile"}
	assert.Equal(t, check, s.Lines[1])
	assert.Equal(t, check, s.Lines[len(s.Lines)-1])
	middle := codes(s.Lines[2 : len(s.Lines)-1])
	slices.Sort(middle)
	assert.Equal(t, []string{"B1", "E000", "E001", "E002", "E003", "E004", "E005", "E006", "E007", "E008", "K1", "KR", "hole"}, middle)
	assert.Equal(t, []float64{8, 45}, s.AnglesDeg)
	assert.Equal(t, 1, s.Replicates)
	for _, l := range s.Lines {
		assert.Equal(t, l.Kind == study.SheetCoupon, slices.Equal(l.Spots, []string{"1", "2"}), l.Code)
	}
	again := draw(t, bench.Wanted{Seed: 5, Session: "S-1"}, roster(9))
	assert.Equal(t, s, again)
	assert.NotEqual(t, codes(s.Lines), codes(draw(t, bench.Wanted{Seed: 6, Session: "S-1"}, roster(9)).Lines))
}

// Each coupon is as often in each place. Of random permutations of k things, (k-1)/k times the sum over the table of
// things and places has (k-1)^2 degrees of freedom (from memory). Source of the bound: the chi-squared distribution
// with 25 degrees of freedom exceeds 52.6 with a chance of 0.001 (Abramowitz, Stegun, Handbook of Mathematical
// Functions, table 26.8, from memory).
func TestOrderIsByChance(t *testing.T) {
	const draws = 6000
	r := roster(2) // with B1, K1, KR and the light trap six lines
	counts := map[string][6]float64{}
	for seed := range draws {
		s := draw(t, bench.Wanted{Seed: int64(seed + 1)}, r)
		for place, code := range codes(s.Lines[2:8]) {
			c := counts[code]
			c[place]++
			counts[code] = c
		}
	}
	require.Len(t, counts, 6)
	sum := 0.0
	for _, c := range counts {
		for _, n := range c {
			sum += (n - draws/6) * (n - draws/6) / (draws / 6)
		}
	}
	assert.Less(t, sum*5/6, 52.6)
}

// Blind codes are unique, are no codes of coupons, and hide in which order these are.
func TestBlindCodes(t *testing.T) {
	r := roster(600)
	for _, l := range draw(t, bench.Wanted{Seed: 1, Blind: true}, r).Lines { // which would be drawn again
		r.Coupons = append(r.Coupons, study.Coupon{Coupon: l.Blind, Role: study.Exposed, Exposure: "wall"})
	}
	s := draw(t, bench.Wanted{Seed: 1, Blind: true}, r)
	seen := map[string]bool{"": true}
	for _, c := range r.Coupons {
		seen[c.Coupon] = true
	}
	for _, l := range s.Lines {
		if l.Kind != study.SheetCoupon {
			assert.Empty(t, l.Blind)
			continue
		}
		assert.False(t, seen[l.Blind], l.Blind)
		seen[l.Blind] = true
		assert.Regexp(t, "^[34679CDFHJKMNPRTWXY]{3}$", l.Blind)
	}
}

// What was read before says which spots and angles are read now.
func TestSpotsReadBefore(t *testing.T) {
	before := bench.Before{AnglesDeg: []float64{8, 60}, Spots: map[string][]string{"E000": {"a", "b"}, "K1": {"c"}}}
	s, err := bench.Draw(bench.Wanted{Exposure: "roof", Seed: 1}, roster(2), before)
	require.NoError(t, err)
	assert.Equal(t, []float64{8, 60}, s.AnglesDeg)
	spots := map[string][]string{}
	for _, l := range s.Lines {
		spots[l.Code] = l.Spots
	}
	assert.Equal(t, []string{"a", "b"}, spots["E000"])
	assert.Equal(t, []string{"c"}, spots["K1"])
	assert.Equal(t, []string{"a", "b", "c"}, spots["E001"], "one that was never read has those of all others")
}

// A coupon is read from the pull on with which its history begins until it ends.
func TestCouponsAtAPull(t *testing.T) {
	r := roster(6)
	r.Exposures = []study.Exposure{{Exposure: "roof", DoseUnit: "days"}, {Exposure: "box", DoseUnit: "hours"}}
	r.Pulls = []study.Pull{{Exposure: "roof", Pull: 1, Date: "2031-03-01"}, {Exposure: "roof", Pull: 2, Date: "2031-06-01"},
		{Exposure: "box", Pull: 2, Date: "2031-06-01"}}
	for i := range r.Coupons {
		if r.Coupons[i].Coupon == "E000" {
			r.Coupons[i].BaselinePull = 2
		}
	}
	at := func(pull float64) study.Stated { return study.Stated{Value: pull, Is: true} }
	r.Lives = []study.CouponEvent{{Coupon: "E001", Event: study.EventBroken, Pull: at(2)},
		{Coupon: "E002", Event: study.EventEnd, Pull: at(1)},
		{Coupon: "E003", Event: study.EventLost, Date: "2031-04-10"},
		{Coupon: "E004", Event: study.EventTransfer, Pull: at(1), Exposure: "box"},
		{Coupon: "E005", Event: study.EventDamage, Pull: at(1)}}
	for pull, want := range map[int][]string{1: {"B1", "K1", "KR", "E001", "E002", "E003", "E004", "E005"},
		2: {"B1", "K1", "KR", "E000", "E005"}} {
		var got []string
		for _, c := range bench.CouponsAt(r, "roof", pull) {
			got = append(got, c.Coupon)
		}
		assert.Equal(t, want, got, pull)
	}
	var box []string
	for _, c := range bench.CouponsAt(r, "box", 2) {
		box = append(box, c.Coupon)
	}
	assert.Equal(t, []string{"B1", "K1", "E004"}, box, "one that went into it, and what goes with all")
	assert.Empty(t, bench.CouponsAt(r, "box", 1))
}

func TestSheetsThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		name, fault, try string
		w                bench.Wanted
	}{
		{"no coupon", "no coupon goes with exposure cellar", "wane enrol", bench.Wanted{Exposure: "cellar", AnglesDeg: []float64{8}}},
		{"no angle", "its angles are not known", "--angles", bench.Wanted{Exposure: "roof", Spots: []string{"1"}}},
		{"no spot", "its spots are not known", "--spots", bench.Wanted{Exposure: "roof", AnglesDeg: []float64{8}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := bench.Draw(c.w, roster(3), bench.Before{})
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, r.Fault, c.fault)
			assert.Contains(t, r.Try, c.try)
		})
	}
	bare := roster(1)
	bare.Standards = nil
	s := draw(t, bench.Wanted{Seed: 1}, bare)
	kinds := map[study.SheetKind]int{}
	for _, l := range s.Lines {
		kinds[l.Kind] += 1
	}
	assert.Equal(t, map[study.SheetKind]int{study.SheetReference: 1, study.SheetCheck: 2, study.SheetTrap: 1, study.SheetCoupon: 4}, kinds,
		"things that are not registered have lines all the same")
}
