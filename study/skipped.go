package study

// SkippedColumn is a column of an export that was not taken as a curve.
type SkippedColumn struct {
	Column   int
	Heading  string
	Why      string
	Spectrum *Spectrum // what was read all the same, for a person who names the column, or nil
	Fault    *Refusal  // why it cannot be used even then, or nil
}

// Answered is a question about an export with the answer that was tried.
type Answered struct {
	Question *Refusal
	Answer   Choice
}
