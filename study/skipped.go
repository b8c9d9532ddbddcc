package study

// SkippedColumn is a column of an export that is not taken in as a curve.
type SkippedColumn struct {
	Column   int
	Heading  string
	Why      string
	Spectrum *Spectrum // its spectrum, if a person may still name the column; or nil
	Fault    *Refusal  // why it cannot be used even if it is named, or nil
}

// Answered is a question about an export with the answer that was tried.
type Answered struct {
	Question *Refusal
	Answer   Choice
}
