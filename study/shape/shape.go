package shape

import "math"

// Shape is a curve along which a quantity changes.
type Shape string

// The shapes, with x the dose, X the largest one of the path, and y the change.
const (
	Linear      Shape = "linear"      // y = rate·x
	Exponential Shape = "exponential" // y = floor·(1 - exp(-x/scale)): to a floor
	Stretched   Shape = "stretched"   // y = floor·(1 - exp(-(x/scale)^exponent))
	Power       Shape = "power"       // y = at_end·(x/X)^exponent
	TwoStage    Shape = "two-stage"   // y = rate·x up to the knee, beyond it with rate_after
)

// Shapes returns all shapes, those of fewer parameters first.
func Shapes() []Shape { return []Shape{Linear, Exponential, Power, TwoStage, Stretched} }

// Formula returns the shape as a formula in plain text.
func (s Shape) Formula() string { return s.form().formula }

// Parameters returns the names of its parameters in their order.
func (s Shape) Parameters() (names []string) {
	for _, p := range s.form().params {
		names = append(names, p.name)
	}
	return names
}

// kind is the kind of a parameter, which says its unit.
type kind int

const (
	change kind = iota // in the unit of changes
	rate               // that per unit of dose
	dose               // of dose
	number             // without a unit
)

// param is a parameter of a shape. The fit moves its logarithm where it is positive by nature.
type param struct {
	name   string
	kind   kind
	logged bool
}

// form is what a shape is: its parameters and its curve. at returns y at x, of a path whose largest dose is most.
type form struct {
	formula string
	params  []param
	at      func(p []float64, x, most float64) float64
}

func (s Shape) form() form {
	switch s {
	case Linear:
		return form{"y = rate x", []param{{"rate", rate, false}},
			func(p []float64, x, _ float64) float64 { return p[0] * x }}
	case Exponential:
		return form{"y = floor (1 - exp(-x/scale))", []param{{"floor", change, false}, {"scale", dose, true}},
			func(p []float64, x, _ float64) float64 { return -p[0] * math.Expm1(-x/p[1]) }}
	case Stretched:
		return form{"y = floor (1 - exp(-(x/scale)^exponent))",
			[]param{{"floor", change, false}, {"scale", dose, true}, {"exponent", number, true}},
			func(p []float64, x, _ float64) float64 { return -p[0] * math.Expm1(-math.Pow(x/p[1], p[2])) }}
	case Power:
		return form{"y = at_end (x/X)^exponent, with X the largest dose",
			[]param{{"at_end", change, false}, {"exponent", number, true}},
			func(p []float64, x, most float64) float64 { return p[0] * math.Pow(x/most, p[1]) }}
	case TwoStage:
		return form{"y = rate x up to the knee, and with rate_after beyond it",
			[]param{{"rate", rate, false}, {"rate_after", rate, false}, {"knee", dose, false}},
			func(p []float64, x, _ float64) float64 { return p[0]*min(x, p[2]) + p[1]*max(x-p[2], 0) }}
	}
	panic("shape: there is no shape " + string(s))
}
