// Package difference says whether groups of coupons differ in a quantity, by how much, and what these data could not
// show.
//
// Start with [AtPull], for the changes by one pull, or [InRate], for the changes per dose. A group is the exposed
// coupons of a coating, a supplier or a lot in one exposure. Each makes a [Comparison]: its groups, and each pair of
// them with the difference a - b of its means, in the unit of changes of the quantity, or of its rates.
//
// The unit is the lot where a group has three lots or more: its value is the mean over its coupons, and what is said
// holds for lots like these. Else it is the coupon, and what is said holds for these lots. Each group has a variance of
// its own, since coatings differ in spread by ten and more. At a pull, with n_g units of group g, s_g the standard
// deviation between them, A_i the errors that unit i shares with others and ā_g their mean (see package series),
//
//	u² = Σ_g s_g²/n_g + shared        shared = max(0, |ā_a - ā_b|² - Σ_g Σ_i |A_i - ā_g|² / (n_g (n_g - 1)))
//
// The scatter s_g holds the errors that a unit has alone, and those by which units of one group differ; shared are
// those that a whole group has. What all have in common, such as their session, cancels. The degrees of freedom are
// those of Welch and Satterthwaite (JCGM 100:2008, G.4.1, equation G.2b, clause from memory), those of shared effects
// among them.
//
// Intervals and adjusted p are simultaneous over the pairs of a comparison: single-step, by the least p of all pairs, which
// is the largest |t| where all have the same degrees of freedom, with the correlation of their differences and with what
// their variances have in common (package simultaneous, type Apart): at a pull the scatter of each group is a
// source of its own; in rate each pair counts as one, which errs on the side of caution. How often pairs are called
// different wrongly is measured by TestErrorRate. Beside it stand p after Holm, without which no pair is called different,
// and an exact p by permutation of the units.
//
// Equivalence within a margin that was fixed before is two one-sided tests (D. J. Schuirmann, Journal of
// Pharmacokinetics and Biopharmaceutics 15 (1987) 657, from memory); its p is the larger of both, and is adjusted after
// Holm, which holds for any correlation.
//
// Where the data cannot tell, a pair has a [Reason] and no interval.
package difference

import (
	"wane/study/population"
	"wane/study/series"
)

// Options say what is compared.
type Options struct {
	By       population.By // empty: coating
	Exposure string        // empty: the only one
	Pull     int           // 0: the last one of those that most groups have; for [AtPull]
	Days     bool          // rates are per day, in place of the unit of the dose; for [InRate]
	Against  string        // the group that each other one is compared with; empty: all pairs
	Margin   float64       // of equivalence, in the unit of the difference; 0: none
	Level    float64       // of confidence, of all intervals together; 0: 0.95
}

// Comparison is groups compared in one quantity and one exposure.
type Comparison struct {
	Quantity series.Quantity
	By       population.By
	Exposure string
	InRate   bool
	Unit     string // of differences
	Pull     int
	Dose     float64 // mean over the coupons; NaN: not known
	DoseUnit string
	Level    float64
	Margin   float64

	Groups  []Group // in the order of their names
	LeftOut []LeftOut
	Pairs   []Pair
}

// Group is the coupons of a group with what is known of it.
type Group struct {
	Name, Coating string  // Coating: empty where it has several
	Mean, SD      float64 // of the values of its units; in rate SD is NaN
	Unit          population.Unit
	Units         int
	Coupons, Lots int // of which there is a value

	LoDose, HiDose float64   // of its coupons; NaN: not known
	Ended          []Without // whose history had ended
	Missing        []Without // that go on, without a value
	Flags          []string  // of its coupons, those of [pointFlags]

	members []string // codes of its coupons, in rate
	sample
}

// Without is a coupon without a value, and why.
type Without struct{ Coupon, Why string }

// LeftOut is a group that is not compared, why, and what to try, in words; Try may be empty.
type LeftOut struct{ Group, Why, Try string }

// Pair is the difference of two groups.
type Pair struct {
	A, B int // in Comparison.Groups

	Difference float64 // of A less B; NaN: there is none
	U, DoF     float64 // NaN with the interval where there is a Why
	Lower      float64 // simultaneous
	Upper      float64
	P          float64 // of this pair alone, two-sided
	PAdjusted  float64 // over all pairs, single-step
	PHolm      float64 // after Holm
	Method     string
	Why        *Reason // nil: the data can tell

	Permutation Permutation

	// LeastDetectable is the true difference that such a comparison calls different with a chance of 80 %.
	LeastDetectable float64

	// SessionShare is the share of U² that is of sessions; NaN: nothing is known of it. It counts where the groups were
	// read in different sessions.
	SessionShare float64

	PEquivalent, PEquivalentAdjusted float64 // NaN: there is no margin
	Verdict                          Verdict
	Flags                            []string
}

// Verdict is what a comparison says of a pair.
type Verdict string

// The verdicts.
const (
	Different        Verdict = "different"
	Equivalent       Verdict = "equivalent"              // within the margin
	DifferentWithin  Verdict = "different-within-margin" // both
	NotDistinguished Verdict = "not-distinguished"
	CannotTell       Verdict = "cannot-tell"
)

// Permutation is an exact test: of all ways to give the units of two groups to groups of these sizes, the share in
// which the means differ by as much.
type Permutation struct {
	P     float64 // NaN: there is none
	Least float64 // the least that P can be with these numbers of units
	Drawn bool    // the ways were drawn by chance, since there are too many
}
