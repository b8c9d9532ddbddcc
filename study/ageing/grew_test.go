package ageing_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/ageing"
)

// Worked by hand: 3 u of a difference of two of u 0.5 is 3·√0.5 = 2.1213; if 0.4 of each is
// shared, 3·√(0.5 - 2·0.16) = 1.2728. Solar values of u 0.0003 and 0.0004, of which 0.0002 are
// shared, differ by u 100·√(9 + 16 - 8)·1e-4 = 0.041231 pp, 3 u are 0.12369 pp.
func TestGrew(t *testing.T) {
	thick := func(f *study.Fit, nm, shared float64) {
		f.Result.Thickness = study.Measure{Value: study.Num(nm), U: 0.5}
		setOwn(f, study.OutThickness, 0.5*0.5-shared*shared)
		share(f, coatingIndex, study.OutThickness, shared)
	}
	solid := func(f *study.Fit, nm, shared float64) {
		f.Result.Solid = study.Measure{Value: study.Num(nm), U: 0.5}
		setOwn(f, study.OutSolid, 0.5*0.5-shared*shared)
		share(f, coatingIndex, study.OutSolid, shared)
	}
	for _, c := range []struct {
		name   string
		coupon string
		do     func(base, now *study.Fit)
		want   bool
	}{
		{"as it was", "E", func(base, now *study.Fit) {}, false},
		{"thicker by 2.12 nm", "E", func(base, now *study.Fit) { thick(base, 120, 0); thick(now, 122.12, 0) }, false},
		{"by 2.13 nm", "E", func(base, now *study.Fit) { thick(base, 120, 0); thick(now, 122.13, 0) }, true},
		{"a control too", "C1", func(base, now *study.Fit) { thick(base, 120, 0); thick(now, 122.13, 0) }, true},
		{"bare glass has no film", "G", func(base, now *study.Fit) { thick(base, 120, 0); thick(now, 122.13, 0) }, false},
		{"by 1.27 nm with a shared part", "E", func(base, now *study.Fit) {
			thick(base, 120, 0.4)
			thick(now, 121.27,
				0.4)
		}, false},
		{"by 1.28 nm with a shared part", "E", func(base, now *study.Fit) {
			thick(base, 120, -0.4)
			thick(now, 121.28,
				-0.4)
		}, true},
		{"thinner", "E", func(base, now *study.Fit) { thick(base, 120, 0); thick(now, 110, 0) }, false},
		{"more solid by 1.27 nm with a shared part", "E", func(base, now *study.Fit) {
			solid(base, 75, 0.4)
			solid(now,
				76.27, 0.4)
		}, false},
		{"by 1.28 nm", "E", func(base, now *study.Fit) { solid(base, 75, 0.4); solid(now, 76.28, 0.4) }, true},
		{"a solar value up by 0.123 pp", "E", func(base, now *study.Fit) {
			now.Result.SolarT = study.Measure{Value: 0.98723,
				U: 0.0004}
		}, false},
		{"by 0.124 pp", "E", func(base, now *study.Fit) { now.Result.SolarT = study.Measure{Value: 0.98724, U: 0.0004} },
			true},
		{"without an uncertainty", "E", func(base, now *study.Fit) {
			thick(base, 120, 0)
			thick(now, 140, 0)
			setOwn(base, study.OutThickness, 0)
			setOwn(now, study.OutThickness, 0)
		}, false},
		{"a film where there was none", "E", func(base, now *study.Fit) {
			base.Result.Thickness = study.Measure{Value: 0, U: study.Null()}
			setOwn(base, study.OutThickness, 0)
			thick(now, 20, 0)
		}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			base, now := made(c.coupon, 0, "1", 0.9860, 0.0003, 0.0002, 2.8), made(c.coupon, 1, "1", 0.9860, 0.0004, 0.0002, 2.8)
			c.do(base, now)
			rows := ageing.NewChanges(roster(), study.RouteNone).Rows([]*study.Fit{base, now})
			assert.Equal(t, c.want, slices.Contains(rows[1].Flags, study.FlagGrew))
			assert.NotContains(t, rows[0].Flags, study.FlagGrew, "pull 0 is never above itself")
		})
	}
}
