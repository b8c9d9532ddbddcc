package ageing

import (
	"math"
	"slices"

	"wane/study"
)

// humidities returns the enrolled relative humidity of sessions, in percent.
func humidities(roster *study.Roster) map[string]study.Num {
	all := map[string]study.Num{}
	for i := range roster.Sessions {
		if s := &roster.Sessions[i]; s.HumidityPercent.Valid() {
			all[s.Session] = s.HumidityPercent
		}
	}
	return all
}

// isHumid reports whether a fit gets [study.FlagHumid]: one of its sessions was damp, or much damper or drier than
// one of the sessions of base, the fit of its pull 0, which may be nil. A session without an enrolled humidity does
// not count. Neither do coupons that repel water, nor uncoated ones.
func (b *Changes) isHumid(c *study.Coupon, f, base *study.Fit) bool {
	if c.WaterRepellent || !c.Role.Coated() {
		return false
	}
	for _, session := range sessionsOf(f) {
		now, known := b.humidity[session]
		if known && (now > study.HumidPercent || f != base && b.humidityDiffers(now, base)) {
			return true
		}
	}
	return false
}

// humidityDiffers reports whether the humidity now, in percent, differs from that of a session of base by more than
// study.HumidPoints.
func (b *Changes) humidityDiffers(now study.Num, base *study.Fit) bool {
	return base != nil && slices.ContainsFunc(sessionsOf(base), func(session string) bool {
		then, known := b.humidity[session]
		return known && math.Abs(float64(now-then)) > study.HumidPoints
	})
}
