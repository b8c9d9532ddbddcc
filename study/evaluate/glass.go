package evaluate

import (
	"wane/optics"
	"wane/study"
)

// GlassNames returns the glasses known by name.
func GlassNames() []string {
	return []string{"soda-lime", "low-iron", "fused-silica", "borosilicate-crown"}
}

// NamedGlass returns the index of a glass known by name. ok is false if the name is not one
// of [GlassNames].
func NamedGlass(name string) (index optics.Index, ok bool) {
	switch study.GlassName(name) {
	case "soda-lime":
		return optics.SodaLime(), true
	case "low-iron":
		return optics.LowIron(), true
	case "fused-silica":
		return optics.FusedSilica(), true
	case "borosilicate-crown":
		return optics.BorosilicateCrown(), true
	}
	return optics.Index{}, false
}

// GlassIndex returns the index of a glass known by name, or written as a formula: see [Formula]. known is false if
// the name is neither; a formula that is none is a [*study.Refusal].
func GlassIndex(name string) (index optics.Index, known bool, err error) {
	if IsFormula(name) {
		index, err = Formula(name)
		return index, true, err
	}
	index, known = NamedGlass(name)
	return index, known, nil
}

// Standard uncertainties of the index of a glass, without a measurement: melts of float
// glass differ more than those of catalogue glass. Common practice, no source.
const (
	uFloatGlass     = 0.002
	uLowIronGlass   = 0.005
	uCatalogueGlass = 0.0005
)

// Standard uncertainties of the absorbance of a pane over that of the table of its glass, as a ratio: the iron of float glass
// differs from melt to melt. Common practice, no source. Catalogue glasses count as clear.
const (
	uFloatLoss   = 0.25
	uLowIronLoss = 0.40
	uTableLoss   = 0.05
)

// LossUncertainty returns the standard uncertainty of the absorbance of a pane of a glass known by name, or of a table,
// as a ratio.
func LossUncertainty(name string) float64 {
	switch name {
	case "soda-lime":
		return uFloatLoss
	case "low-iron":
		return uLowIronLoss
	case "fused-silica", "borosilicate-crown":
		return 0
	}
	return uTableLoss
}

// GlassUncertainty returns the standard uncertainty of the index of a glass known by
// name, or of a table or a formula.
func GlassUncertainty(name string) float64 {
	switch name {
	case "soda-lime":
		return uFloatGlass
	case "low-iron":
		return uLowIronGlass
	}
	return uCatalogueGlass
}
