package main

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/desk"
	"wane/study/scenario"
	"wane/study/service"
)

// A plan says what is read in a session, and of sessions apart that they do not cancel.
func TestRehearsedDesign(t *testing.T) {
	p := &scenario.Plan{Blanks: 1, Coatings: []scenario.Coating{{Coupons: 6, Controls: 2}, {Coupons: 4, Controls: 1}}}
	p.Reading.LightTrap = true
	said := rehearsedDesign(p)
	assert.Len(t, said, 2)
	assert.Equal(t, "Read in one session at each pull: 10 exposed coupons, 3 controls, 2 dark blanks, a light trap.", said[0])
	assert.Contains(t, said[1], "cancels in each contrast")
	p.Apart, p.Reading.LightTrap = true, false
	said = rehearsedDesign(p)
	assert.Len(t, said, 2)
	assert.Equal(t, "Read at each pull, each coating in a session of its own: 10 exposed coupons, 3 controls, 2 dark blanks.", said[0])
	assert.Contains(t, said[1], "is then in each contrast of coatings; sessions: together reads all in one")
}

// A value and the ends of its interval have the same decimal places: no zero is dropped.
func TestIntervalsKeepTheirZeros(t *testing.T) {
	assert.Equal(t, "2.20 (2.10 to 2.32)", withInterval(2.2, 2.1, 2.32))
	assert.Equal(t, "60 (48 to 72)", withInterval(60, 48, 72))
	assert.Equal(t, "2.2", withInterval(2.2, math.NaN(), math.NaN()))
	assert.Equal(t, "-", withInterval(math.NaN(), math.NaN(), math.NaN()))
	assert.Equal(t, "1 (0.5 to without end)", rangeWords(service.Range{Value: 1, Lower: 0.5, Upper: math.Inf(1)}))
}

// The first coating keeps most: all others keep less, or those of which there is a value.
func TestServiceWords(t *testing.T) {
	kept := &service.Kept{Cost: math.NaN()}
	s := &desk.Service{DoseUnit: "days", Coatings: []desk.ServiceCoating{{Kept: kept}, {Kept: kept,
		ToBest: service.Range{Lower: 1}}}}
	s.Coatings[0].Coating = "K"
	assert.Contains(t, serviceWords(s), "K keeps most; all others keep less; each pair at 95 %")
	s.Coatings = append(s.Coatings, desk.ServiceCoating{Why: "one coupon"})
	assert.Contains(t, serviceWords(s), "K keeps most; all others that have a value keep less; each pair at 95 %")
}
