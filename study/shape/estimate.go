package shape

import "wane/study"

// Level is the level of all intervals.
const Level = 0.95

// Estimate is a number that a path says, with its interval. NaN stands for what cannot be told.
type Estimate struct {
	Parameter    string
	Unit         string // empty: a number without a unit
	Value, U     float64
	Lower, Upper float64 // of the interval at Level; NaN: no end on this side
	At           float64 // the dose or day that the value is of; NaN: it is of none
	DF           float64 // of Student's t; NaN: the normal distribution
	Method       string
	Flags        []string
	Why          *study.Refusal // why Value is NaN, or why it has no interval
}

// Cannot returns the refusal of a question that the data cannot answer.
func Cannot(because, try string) *study.Refusal {
	return &study.Refusal{Fault: "cannot be told from these data, because " + because, Try: try}
}
