package study

import "strings"

// Taking says how an export was taken in.
type Taking struct {
	// Digest is of all that decides what becomes of the bytes: the version of the
	// reader, what was stated, and where each column goes. The same bytes with the same
	// digest are known and need not be read again.
	Digest [32]byte

	Stated  string // what was stated, as "unit percent, range 400-1100"; empty: nothing
	Profile string // the profile that placed its curves or answered for it; empty: none
	Version int    // of the profile, from 1; 0: none
}

// Standing says whether a reading enters results.
type Standing string

// The standings of a reading. What came last decides: a guard whose hold still stands, or
// a person who reviews it.
const (
	Counted Standing = ""      // it enters results
	Held    Standing = "held"  // a guard found it suspicious, and nobody has judged yet
	Aside   Standing = "aside" // a person set it aside
)

// Concern is what a guard found suspicious in a reading: the word for the guard, and the
// reason in a sentence.
type Concern struct{ Guard, Reason string }

// Hold is a concern about a reading of the study.
type Hold struct {
	Reading int64 // its number in the study
	Concern
}

// Release is the word of the guards that a hold no longer stands, and why.
type Release struct {
	Hold   int64 // its number in the study
	Reason string
}

// Review is what a person decided of a reading, and why.
type Review struct {
	Reading  int64    // its number in the study
	Standing Standing // Counted or Aside
	Why      string
}

// Traits are what guards compare readings by. They are made once, when a reading is
// taken in.
type Traits struct {
	Noise float64 // standard deviation of a point, a fraction, from second differences

	// Bands are the mean values over bands of 50 nm, one after the other, that the
	// reading covers whole; the first begins at FirstBandNM, a multiple of 50. None: it
	// covers no band.
	FirstBandNM int
	Bands       []float64
}

// BandNM is the width of the bands of [Traits], in nm.
const BandNM = 50

// Profile is one version of a profile that a study keeps.
type Profile struct {
	Name    string
	Version int    // from 1
	Text    string // as it was written
}

// Words says how a reading stands, as tables and columns have it.
func (s Standing) Words() string {
	switch s {
	case Counted:
		return "counted"
	case Aside:
		return "set aside"
	}
	return string(s)
}

// HoldWords joins what guards found of a reading.
func HoldWords(holds []Hold) string {
	words := make([]string, len(holds))
	for i, h := range holds {
		words[i] = h.Guard + ": " + h.Reason
	}
	return strings.Join(words, "; ")
}
