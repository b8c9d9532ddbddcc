package ageing_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
	"wane/study/ageing"
)

// The Kelvin radii that the limits are set by, in the documentation of FlagHumid, by
// r = 2 γ V / (R T ln(1/h)) at 24 °C: γ is 72.13 mN/m (IAPWS R1-76(2014), between 72.74 at 20
// and 71.97 at 25 °C), the density of water 997.30 kg/m³ (IAPWS-95 at 0.1 MPa), its molar mass 18.015 g/mol, R
// 8.314463 J/(mol K) (CODATA 2018); the values are from memory.
func TestKelvinRadii(t *testing.T) {
	radiusNM := func(humidity float64) float64 {
		const tension, molarVolume, gas, kelvin = 0.07213, 18.015e-3 / 997.30, 8.314463, 297.15
		return 1e9 * 2 * tension * molarVolume / (gas * kelvin * math.Log(1/humidity))
	}
	assert.InDelta(t, 1.15, radiusNM(0.40), 0.005) // to the last digit that is stated
	assert.InDelta(t, 2.06, radiusNM(0.60), 0.005)
}

// Rows of coupons read at the humidity of their session and of that of pull 0, in percent.
func TestHumid(t *testing.T) {
	null := study.Null()
	for _, c := range []struct {
		name      string
		coupon    string
		now, then study.Num
		repellent bool
		want      bool
	}{
		{"60 % at both", "E", 60, 60, false, false},
		{"above 60 %", "E", 60.1, 60, false, true},
		{"10 points from pull 0", "E", 40, 50, false, false},
		{"more, damper", "E", 50.1, 40, false, true},
		{"more, drier", "E", 39.9, 50, false, true},
		{"above 60 %, and pull 0 not known", "E", 61, null, false, true},
		{"pull 0 not known", "E", 55, null, false, false},
		{"now not known", "E", null, 80, false, false},
		{"a control", "C1", 70, 40, false, true},
		{"a film that is declared water-repellent", "E", 80, 40, true, false},
		{"bare glass", "G", 80, 40, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := roster()
			for i := range r.Coupons {
				r.Coupons[i].WaterRepellent = c.repellent
			}
			r.Sessions = []study.Session{{Session: "s0", HumidityPercent: c.then}, {Session: "s1", HumidityPercent: c.now}}
			base, now := made(c.coupon, 0, "1", 0.986, 0.0003, 0, 2.8), made(c.coupon, 1, "1", 0.986, 0.0003, 0, 2.8)
			base.Session, now.Session = "s0", "s1"
			rows := ageing.NewChanges(r, study.RouteNone).Rows([]*study.Fit{base, now})
			assert.Equal(t, c.want, slices.Contains(rows[1].Flags, study.FlagHumid))
			assert.Equal(t, c.then > 60 && !c.repellent && c.coupon != "G", slices.Contains(rows[0].Flags, study.FlagHumid),
				"pull 0")
		})
	}
}

// Of a row whose readings come from several sessions each counts, and so does each of pull 0.
func TestHumidInAnySession(t *testing.T) {
	for _, c := range []struct {
		name      string
		base, now []string
		want      bool
	}{
		{"the second is damp", nil, []string{"dry", "dry", "damp"}, true},
		{"the first is damp", nil, []string{"damp", "dry"}, true},
		{"the second is drier than pull 0", []string{"dry"}, []string{"dry", "desert"}, true},
		{"one of pull 0 is", []string{"dry", "desert"}, []string{"dry"}, true},
		{"all alike, or not enrolled", []string{"dry", ""}, []string{"dry", "unknown"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := roster()
			r.Sessions = []study.Session{{Session: "dry", HumidityPercent: 40}, {Session: "damp", HumidityPercent: 75},
				{Session: "desert", HumidityPercent: 20}}
			base, now := made("E", 0, "1", 0.986, 0.0003, 0, 2.8), made("E", 1, "1", 0.986, 0.0003, 0, 2.8)
			base.Session, now.Session = "dry", "dry"
			base.Sessions, now.Sessions = c.base, c.now
			rows := ageing.NewChanges(r, study.RouteNone).Rows([]*study.Fit{base, now})
			assert.Equal(t, c.want, slices.Contains(rows[1].Flags, study.FlagHumid))
			assert.NotContains(t, rows[0].Flags, study.FlagHumid)
		})
	}
}
