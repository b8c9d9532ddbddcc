package evaluate

import (
	"math"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// PaneBlank returns the blank that readings of a pane without a film make: by the transmittance at the smallest
// angle. It is nil if none is of transmittance. setup is that of the pane.
func PaneBlank(setup Setup, readings []study.Reading) (*film.Blank, error) {
	var best *study.Reading
	for i := range readings {
		if r := &readings[i]; r.Quantity == study.Transmittance && (best == nil || r.AngleDeg < best.AngleDeg) {
			best = r
		}
	}
	if best == nil || setup.Glass.Back != optics.Bare {
		return nil, nil
	}
	b, err := film.NewBlank(setup.Glass.Index, best.NM, best.Values, best.AngleDeg)
	return b, refusal(err)
}

// CoversThrough reports whether a blank was read wherever readings are of transmittance.
func CoversThrough(b *film.Blank, readings []study.Reading) bool {
	for i := range readings {
		r := &readings[i]
		n := len(r.NM)
		if r.Quantity == study.Transmittance && (r.NM[0] < b.NM[0] || r.NM[n-1] > b.NM[len(b.NM)-1]) {
			return false
		}
	}
	return true
}

// WithBlank returns setup with the absorption of its pane known by a blank. Where that was read in the same session,
// the scale of transmittance cancels, and what is left of it is the placement of the blank; else the blank has a
// scale of its own.
func WithBlank(setup Setup, b *film.Blank, sameSession bool) Setup {
	known := knownOf(&setup)
	if own := known.Placement.UThrough; sameSession {
		known.Session.UThroughScale = own
	} else {
		setup.Glass.UPass = math.Hypot(known.Session.UThroughScale, own)
	}
	setup.Glass.Blank, setup.Known = b, &known
	return setup
}
