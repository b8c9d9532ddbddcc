package study

// Kind is what the cells of a column of a table are, whose rows go out one by one.
type Kind int

// The kinds of cells.
const (
	KindText   Kind = iota // string
	KindWhole              // int64
	KindReal               // float64, finite
	KindWords              // []string
	KindPoints             // []float64, one number for each point of a curve
)

// String returns what a person calls the kind.
func (k Kind) String() string {
	return [...]string{"text", "whole number", "number", "list of words", "list of numbers"}[k]
}

// Field is one column of a table that goes out: what stands in it, in which unit, and what it means.
type Field struct {
	Name  string
	Kind  Kind
	Unit  string // empty: it has none
	About string
}
