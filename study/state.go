package study

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

// IsThinned reports whether a thickness is below ThinnedPart of that of the baseline, by more than StateSigmas times u,
// the standard uncertainty of ThinnedPart of that of the baseline less that now. A null u counts as 0.
func IsThinned(now, base, u Num) bool {
	short := ThinnedPart*base - now
	return short > 0 && float64(short) > StateSigmas*u.OrZero()
}
