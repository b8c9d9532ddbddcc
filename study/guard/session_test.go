package guard_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/guard"
)

// seenOf makes new readings of one session from curves, numbered from 1.
func seenOf(session string, readings ...*study.Reading) (seen []guard.Reading) {
	for i, r := range readings {
		seen = append(seen, guard.Reading{Number: int64(i + 1), Place: r.Place, Session: session, Traits: r.Traits,
			Unjudged: true})
	}
	return seen
}

// numbers returns the readings that a guard holds.
func numbers(guard string, holds []study.Hold) (n []int64) {
	for _, h := range holds {
		if h.Guard == guard {
			n = append(n, h.Reading)
		}
	}
	return n
}

// Seven readings at 8 degrees with a noise of 0.03 to 0.036 pp, and one at 60 degrees.
func TestNoisy(t *testing.T) {
	g := guard.New(guardRoster())
	base := func() (seen []guard.Reading) {
		for i := range 7 {
			r := reading("exposed matched", 8, "u", madeFilm{118, 0.36, 0}.reads(t, u(8)))
			r.Spot = fmt.Sprint(i)
			seen = append(seen, seenOf("dry", r)...)
			seen[i].Number, seen[i].Noise = int64(i+1), 0.0003+0.00001*float64(i)
		}
		return seen
	}
	for _, c := range []struct {
		name   string
		change func(seen []guard.Reading)
		want   []int64
	}{
		{"all alike", func([]guard.Reading) {}, nil},
		{"one at 4 times the median of the others, 0.033 pp", func(s []guard.Reading) { s[0].Noise = 0.00133 }, nil},
		{"one above", func(s []guard.Reading) { s[0].Noise = 0.00135 }, []int64{1}},
		{"two", func(s []guard.Reading) { s[0].Noise, s[6].Noise = 0.01, 0.005 }, []int64{1, 7}},
		{"only four others at its angle", func(s []guard.Reading) {
			s[0].Noise, s[1].AngleDeg, s[2].AngleDeg = 0.01, 60,
				60
		}, nil},
		{"five others", func(s []guard.Reading) { s[0].Noise, s[1].AngleDeg = 0.01, 60 }, []int64{1}},
		{"others that are held count for nothing", func(s []guard.Reading) {
			s[0].Noise, s[1].Standing,
				s[2].Standing = 0.01, study.Held, study.Aside
		}, nil},
		{"one that is not new", func(s []guard.Reading) { s[0].Noise, s[0].Unjudged = 0.01, false }, nil},
		{"one that a person set aside", func(s []guard.Reading) { s[0].Noise, s[0].Standing = 0.01, study.Aside }, nil},
		{"one that is held for something else", func(s []guard.Reading) { s[0].Noise, s[0].Standing = 0.01, study.Held },
			[]int64{1}},
		{"next to no noise", func(s []guard.Reading) {
			for i := range s {
				s[i].Noise = 0.00001
			}
			s[0].Noise = 0.0002
		}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			seen := base()
			c.change(seen)
			holds := holdsOf(t, g, "dry", seen, nil)
			assert.Equal(t, c.want, numbers("noisy", holds))
			assert.Len(t, holds, len(c.want))
			assert.Empty(t, holdsOf(t, g, "", seen, nil), "a reading without a session has no others")
		})
	}
	seen := base()
	seen[0].Noise = 0.01
	assert.Equal(t, "its noise is 1 pp where that of the 6 other readings of the session at 8 degrees, u, is 0.0335 "+
		"pp; the limit is 4 times as much", holdsOf(t, g, "dry", seen, nil)[0].Reason)
}

// A blank, stated at 8, 30, 45 and 60 degrees and read at others, in a session whose scale is
// 2 % off. Each level by itself is within its limit.
func TestAngleByBlanks(t *testing.T) {
	g := guard.New(guardRoster())
	const scale = 1.02
	blanks := func(pol string, share float64, really ...float64) (seen []guard.Reading) {
		var readings []*study.Reading
		for i, stated := range []float64{8, 30, 45, 60} {
			if i < len(really) {
				readings = append(readings, reading("blank matched", stated, pol,
					times(noFilm.reads(t, beam{angleDeg: really[i], share: share, capture: 1}), scale)))
				require.Empty(t, g.JudgeReading(readings[i]))
			}
		}
		return seenOf("dry", readings...)
	}
	steep := func(really float64) []guard.Reading {
		r := reading("blank matched", 70, "u", times(noFilm.reads(t, u(really)), scale))
		require.Empty(t, g.JudgeReading(r))
		s := append(blanks("u", 0.5, 8, 30, 45), seenOf("dry", r)...)
		s[3].Number = 4
		return s
	}
	for _, c := range []struct {
		name string
		seen []guard.Reading
		want []int64
		says string
	}{
		{"as stated", blanks("u", 0.5, 8, 30, 45, 60), nil, ""},
		{"half a degree off", blanks("u", 0.5, 8.5, 30.5, 45.5, 60.5), nil, ""},
		{"60 was 58", blanks("u", 0.5, 8, 30, 45, 58), []int64{4}, "it would fit 58 degrees, or a reference or detector " +
			"is off at this angle: measure again"},
		{"60 was 58.5", blanks("u", 0.5, 8, 30, 45, 58.5), nil, ""},
		{"70 was 68.2", steep(68.2), []int64{4}, "at 3 other angles"},
		{"70 was 69", steep(69), nil, ""},
		{"45 was 41", blanks("u", 0.5, 8, 30, 41, 60), []int64{3}, "it would fit"},
		{"45 was 43", blanks("u", 0.5, 8, 30, 43.5, 60), nil, ""},
		{"30 was 25, which unpolarised light does not tell", blanks("u", 0.5, 8, 25, 45, 60), nil, ""},
		{"but s does", blanks("s", 1, 8, 25, 45, 60), []int64{2}, "by the session's blanks at 3 other angles"},
		{"two other angles", blanks("s", 1, 8, 25, 45), []int64{2}, "at 2 other angles"},
		{"one other angle", blanks("s", 1, 8, 25), nil, ""},
		{"other angles that do not agree", blanks("s", 1, 8, 25, 42, 60), nil, ""},
		{"held already", func() []guard.Reading {
			s := blanks("u", 0.5, 8, 30, 45, 58)
			s[3].Standing = study.Held
			return s
		}(), nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			holds := holdsOf(t, g, "dry", c.seen, nil)
			assert.Equal(t, c.want, numbers("angle", holds))
			assert.Len(t, holds, len(c.want))
			if len(holds) > 0 {
				assert.Contains(t, holds[0].Reason, c.says)
			}
		})
	}
}

// A stripped coupon in a session whose scale is 4 % low: what it reads at 47 degrees more
// than bare glass does at 30 is beyond what the blanks leave possible, though not beyond
// the limit of a level by itself.
func TestAngleOfCoatedGlass(t *testing.T) {
	g := guard.New(guardRoster())
	low := func(coupon string, stated, really float64, f madeFilm) *study.Reading {
		return reading(coupon, stated, "u", times(f.reads(t, u(really)), 0.96))
	}
	for _, c := range []struct {
		name   string
		coated *study.Reading
		blank  bool
		want   []int64
	}{
		{"as stated", low("control matched", 30, 30, noFilm), true, nil},
		{"30 was 45", low("control matched", 30, 45, noFilm), true, []int64{2}},
		{"without a blank", low("control matched", 30, 45, noFilm), false, nil},
		{"a film that reflects less at 45 than glass at 30", low("control matched", 30, 45, madeFilm{118, 0.36, 0}), true,
			nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Empty(t, g.JudgeReading(c.coated), "by itself")
			readings := []*study.Reading{low("blank matched", 8, 8, noFilm), c.coated}
			if !c.blank {
				readings[0] = low("control blackened", 8, 8, noFilm)
			}
			holds := holdsOf(t, g, "dry", seenOf("dry", readings...), nil)
			require.Equal(t, c.want, numbers("angle", holds))
			if len(holds) > 0 {
				assert.Regexp(t, `whatever film is on it, by the session's blanks; the limit is \S+ pp outside; `+
					`it would fit \d+ to \d+ degrees, or a reference`, holds[0].Reason)
			}
		})
	}
}

// One spot read at 8, 30, 45 and 60 degrees whose files are placed in another order.
func TestLevelThatFalls(t *testing.T) {
	g := guard.New(guardRoster())
	film, thick := madeFilm{118, 0.36, 0}, madeFilm{300, 0.1, 0}
	spot := func(f madeFilm, pol string, really ...float64) (seen []guard.Reading) {
		var readings []*study.Reading
		for i, stated := range []float64{8, 30, 45, 60} {
			readings = append(readings, reading("exposed matched", stated, pol, f.reads(t, u(really[i]))))
		}
		return seenOf("", readings...)
	}
	for _, c := range []struct {
		name string
		seen []guard.Reading
		want []int64
	}{
		{"as stated", spot(film, "u", 8, 30, 45, 60), nil},
		{"a thick film as stated", spot(thick, "u", 8, 30, 45, 60), nil},
		{"45 and 60 exchanged", spot(film, "u", 8, 30, 60, 45), []int64{3, 4}},
		{"the same in the native beam", spot(film, "n", 8, 30, 60, 45), []int64{3, 4}},
		{"8 and 60 exchanged, of which 60 falls from all others", spot(film, "u", 60, 30, 45, 8), []int64{4}},
		{"8 and 30 exchanged, which nothing tells", spot(film, "u", 30, 8, 45, 60), nil},
		{"two spots", func() []guard.Reading {
			s := spot(film, "u", 8, 30, 60, 45)
			s[2].Spot = "2"
			return s
		}(), nil},
		{"one of the two held for its level", func() []guard.Reading {
			s := spot(film, "u", 8, 30, 60, 45)
			s[2].Standing = study.Held
			return s
		}(), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			holds := holdsOf(t, g, "", c.seen, nil)
			assert.Equal(t, c.want, numbers("angle", holds))
			assert.Len(t, holds, len(c.want))
			for _, h := range holds {
				assert.Contains(t, h.Reason, "at the same spot, which no film explains")
			}
		})
	}
}

// Holds come by number, then guard, whatever the order of the readings.
func TestOrderOfHolds(t *testing.T) {
	b := newBatch(7, 3, 5, 2)
	g := guard.New(b.roster)
	now := b.session(t, nil)
	for i := range now {
		if i%7 == 0 {
			now[i].Noise = 0.01
		}
	}
	holds := g.JudgeSession("s0", now)
	require.Greater(t, len(numbers("noisy", holds)), 5)
	assert.True(t, slices.IsSortedFunc(holds, func(a, b study.Hold) int {
		return cmp.Or(cmp.Compare(a.Reading, b.Reading), cmp.Compare(a.Guard, b.Guard))
	}))
	mixed := slices.Clone(now)
	b.rng.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
	assert.Equal(t, holds, g.JudgeSession("s0", mixed))
}

// holdsOf is what the guards hold in a session, at one pull after the other, of a history of
// any coupons: that of the coupons that were read in the session is at hand, the rest comes
// when it is asked for.
func holdsOf(tb testing.TB, g *guard.Guard, name string, seen, history []guard.Reading) []study.Hold {
	tb.Helper()
	seen, holds := slices.Clone(seen), g.JudgeSession(name, seen)
	if name == "" {
		return holds
	}
	own := slices.DeleteFunc(slices.Clone(history), func(s guard.Reading) bool {
		return !slices.ContainsFunc(seen, func(now guard.Reading) bool { return now.Coupon == s.Coupon })
	})
	pulls := map[int]bool{}
	for i := range seen {
		pulls[seen[i].Pull] = true
	}
	for _, pull := range slices.Sorted(maps.Keys(pulls)) {
		found, err := g.JudgeNames(pull, seen, own, func() ([]guard.Reading, error) { return history, nil })
		require.NoError(tb, err)
		for _, h := range found {
			seen[slices.IndexFunc(seen, func(s guard.Reading) bool { return s.Number == h.Reading })].Swapped = true
		}
		holds = append(holds, found...)
	}
	slices.SortStableFunc(holds, func(a, b study.Hold) int {
		return cmp.Or(cmp.Compare(a.Reading, b.Reading), cmp.Compare(a.Guard, b.Guard))
	})
	return holds
}
