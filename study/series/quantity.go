package series

import "wane/study"

// Quantity is what can be followed over the dose.
type Quantity struct {
	Name      string // as commands take it
	LevelUnit string // of values: percent, nm, ...; empty: a number without a unit
	Unit      string // of changes and of rates, per unit of dose: pp where LevelUnit is percent
	About     string

	// Worse is the direction in which ageing goes, +1 or -1: a loss is Worse times a change. 0: it has none.
	Worse int

	// Measured says that other instruments read it: it comes from measurements, not from fits.
	Measured bool

	of     func(*study.Result) *study.Measure // of a fit
	output study.Output                       // whose errors are kept effect by effect, if split
	split  bool
	factor float64 // from the unit of the fit to LevelUnit
}
