package ageing

import (
	"math"
	"slices"

	"wane/study"
)

// Limits of [study.FlagHumid], relative humidity in percent. Water condenses in a pore up to the
// Kelvin radius, by Thomson's equation
//
//	r = 2 γ V / (R T ln(1 / h))
//
// with the surface tension γ and the molar volume V of water, and h the relative humidity:
// 1.15 nm at 40 %, 2.06 nm at 60 % and 24 °C. In between the mesopores of porous silica
// fill; 10, 30 and 100 % of the pores filled cost 0.06, 0.23 and 1.13 pp of solar
// transmittance (118 nm, porosity 0.36, on soda-lime glass). Source of the equation: W. Thomson,
// Philosophical Magazine 42 (1871) 448-452, from memory. Where the limits lie: common
// practice, no source.
const (
	dampPercent = 60.0
	dampPoints  = 10.0
)

// humidities returns the registered relative humidity of sessions, in percent.
func humidities(roster *study.Roster) map[string]study.Num {
	all := map[string]study.Num{}
	for i := range roster.Sessions {
		if s := &roster.Sessions[i]; s.HumidityPercent.Valid() {
			all[s.Session] = s.HumidityPercent
		}
	}
	return all
}

// isHumid reports whether a fit of a coupon is to be flagged, by any of its sessions and of
// those of base, the fit of its pull 0, nil if there is none. Where nothing is registered nothing
// is known.
func (b *Book) isHumid(c *study.Coupon, f, base *study.Fit) bool {
	if c.WaterRepellent || !c.Role.Coated() {
		return false
	}
	for _, session := range sessionsOf(f) {
		now, known := b.humidity[session]
		if known && (now > dampPercent || f != base && b.differs(now, base)) {
			return true
		}
	}
	return false
}

// differs reports whether humidity differs much from that of a session of base.
func (b *Book) differs(now study.Num, base *study.Fit) bool {
	return base != nil && slices.ContainsFunc(sessionsOf(base), func(session string) bool {
		then, known := b.humidity[session]
		return known && math.Abs(float64(now-then)) > dampPoints
	})
}
