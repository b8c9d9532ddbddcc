package study

import (
	"strconv"
	"strings"
)

// Taking describes the intake of an export.
type Taking struct {
	// Digest is the digest of all that decides the reading of the bytes: the version of the
	// reader, what was stated, and the place of each column. The same bytes with the same
	// digest are known and are not read again.
	Digest [32]byte

	Stated  string // what was stated, such as "unit percent, range 400-1100"; may be empty
	Profile string // the profile that placed its curves or answered a question; empty: none
	Version int    // of the profile, from 1; 0: none
}

// Standing says whether a reading enters results.
type Standing string

// The standings of a reading. The last event decides: a hold that still applies, or a review
// by a person.
const (
	Counted Standing = ""      // it enters results
	Held    Standing = "held"  // a guard holds it, and no person has judged it yet
	Aside   Standing = "aside" // a person set it aside
)

// Concern is the concern of a guard about a reading: the word of the guard, and the reason in a
// sentence.
type Concern struct{ Guard, Reason string }

// Hold is a concern about a reading of the study.
type Hold struct {
	Reading int64 // its number in the study
	Concern
}

// Release is the decision of a guard that a hold no longer applies, and why.
type Release struct {
	Hold   int64 // its number in the study
	Reason string
}

// Review is the decision of a person about a reading, and why.
type Review struct {
	Reading  int64    // its number in the study
	Standing Standing // Counted or Aside
	Why      string
}

// Traits are the properties of a reading that guards compare. They are computed once, at
// intake.
type Traits struct {
	Noise float64 // standard deviation of a point, a fraction, from second differences

	// Bands holds the mean values, fractions, over the successive bands of 50 nm that the
	// reading covers completely. The first begins at FirstBandNM, a multiple of 50. It is
	// empty if the reading covers no band.
	FirstBandNM int
	Bands       []float64
}

// BandNM is the width of the bands of [Traits], in nm.
const BandNM = 50

// Versioned is one version of a text that a study keeps under a name.
type Versioned struct {
	Name    string
	Version int    // from 1
	Text    string // as it was written
}

// String names the version, as damp-heat@1.
func (v Versioned) String() string { return v.Name + "@" + strconv.Itoa(v.Version) }

// Profile is a text that says where curves belong; Protocol one that says how coupons are exposed or read.
type (
	Profile  = Versioned
	Protocol = Versioned
)

// Words returns the standing in words, as tables and columns show it.
func (s Standing) Words() string {
	switch s {
	case Counted:
		return "counted"
	case Aside:
		return "set aside"
	}
	return string(s)
}

// HoldWords returns the words and reasons of holds in one text.
func HoldWords(holds []Hold) string {
	words := make([]string, len(holds))
	for i, h := range holds {
		words[i] = h.Guard + ": " + h.Reason
	}
	return strings.Join(words, "; ")
}
