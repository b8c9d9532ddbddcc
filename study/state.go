package study

import "math"

// State is the condition of a spot's film, by the rules of the evaluate package.
// The empty state means "does not apply".
type State string

// The states of a spot.
const (
	Full     State = "full"
	Thinned  State = "thinned"
	Patchy   State = "patchy"
	Stripped State = "stripped"
	Unclear  State = "unclear"
)

// States returns all states, in the order in which they are listed.
func States() []State { return []State{Full, Thinned, Patchy, Stripped, Unclear} }

// Limits of the state rules.
const (
	StrippedNM  = 3.0
	PatchyBare  = 0.05
	ThinnedPart = 0.9
	StateSigmas = 2.0 // standard uncertainties
)

// IsThinned reports whether a thickness is below ThinnedPart of that of the baseline, by more than StateSigmas
// standard uncertainties of the difference. The two are taken for independent, as the view of results in the study
// file must take them; errors that both pulls share make the limit rather too large.
func IsThinned(now, base Measure) bool {
	short := ThinnedPart*float64(base.Value) - float64(now.Value)
	u := math.Hypot(now.U.OrZero(), ThinnedPart*base.U.OrZero())
	return short > 0 && short > StateSigmas*u
}
