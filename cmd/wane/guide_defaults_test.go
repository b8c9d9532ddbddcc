package main

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// The guide's table of what is assumed is what fits assume.
func TestGuideStatesTheDefaults(t *testing.T) {
	page, err := os.ReadFile("guide/sessions.md")
	require.NoError(t, err)
	matched, blackened := film.DefaultKnown(optics.Matched), film.DefaultKnown(optics.Blackened)
	s, p, c := matched.Session, matched.Placement, matched.Coupon
	for effect, assumed := range map[string]string{
		"scale of readings":    fmt.Sprintf("1 ± %g; 0.05 in a joint fit", s.UScale),
		"factor of each angle": fmt.Sprintf("1 ± %g", s.UFactor),
		"error of each angle":  fmt.Sprintf("0 ± %g degrees", s.UAngle),
		"s share of a beam":    fmt.Sprintf("0.5 ± %g, 0.5 ± %g", s.UMixed, s.UShare),
		"wavelengths":          fmt.Sprintf("0 ± %g nm", s.UWavelengthNM),
		"zero: stray":          fmt.Sprintf("%g ± %g", s.Zero, s.UZero),
		"factor of each curve": fmt.Sprintf("1 ± %g", p.UFactor),
		"tilt":                 fmt.Sprintf("0 ± %g degrees", p.UTiltDeg),
		"zero: light around": fmt.Sprintf("0 ± %g; %g with a `blackened` far face", p.UZero,
			blackened.Placement.UZero),
		"leak": fmt.Sprintf("%g ± %g", c.Leak, c.ULeak),
		"index of the glass ": fmt.Sprintf("± %g soda-lime, ± %g low-iron, ± %g other glasses",
			evaluate.GlassUncertainty("soda-lime"),
			evaluate.GlassUncertainty("low-iron"), evaluate.GlassUncertainty("fused-silica")),
		"index of the coupon": fmt.Sprintf("± %g", c.UIndex),
	} {
		found := false
		for _, line := range strings.Split(string(page), "\n") {
			if strings.HasPrefix(line, "| "+effect) {
				found = true
				assert.Contains(t, line, assumed, effect)
			}
		}
		assert.True(t, found, effect)
	}
	assert.Contains(t, string(page), fmt.Sprintf("an empty `u` is %g", study.UTrap))
}
