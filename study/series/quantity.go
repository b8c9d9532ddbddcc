package series

import (
	"slices"
	"strings"

	"wane/study"
)

// Quantity is what can be followed over the dose.
type Quantity struct {
	Name      string // as commands take it
	LevelUnit string // of values: percent, nm, ...; empty: a number without a unit
	Unit      string // of changes and, per unit of dose, of rates: pp where LevelUnit is percent
	About     string

	// Worse is the direction in which ageing goes, +1 or -1: a loss is Worse times a change. 0: it has none.
	Worse int

	// Measured says that other instruments read it: it comes from measurements, not from fits.
	Measured bool

	// Followed is what is followed of results; of a gain kept, the solar transmittance.
	Followed study.Followed

	measurand string // of measurements
	kept      bool   // it is the change of Followed over the gain at the baseline
}

// Quantities returns all quantities.
func Quantities() []Quantity {
	percent := func(of func(*study.Result) *study.Measure, output study.Output) study.Followed {
		return study.Followed{Of: of, Factor: 100, Output: output, Split: true}
	}
	nm := func(of func(*study.Result) *study.Measure, output study.Output) study.Followed {
		return study.Followed{Of: of, Factor: 1, Output: output, Split: true}
	}
	alone := func(of func(*study.Result) *study.Measure) study.Followed { return study.Followed{Of: of, Factor: 1} }
	all := []Quantity{
		{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1, Followed: study.FollowedSolarT(),
			About: "solar transmittance of the front surface, by energy"},
		{Name: "cell_T", LevelUnit: "percent", Unit: "pp", Worse: -1,
			Followed: percent(func(r *study.Result) *study.Measure { return &r.CellT }, study.OutCellT),
			About:    "the same by photons, 300-1200 nm"},
		{Name: "gain", LevelUnit: "pp", Unit: "pp", Worse: -1,
			Followed: nm(func(r *study.Result) *study.Measure { return &r.Gain }, study.OutGain),
			About:    "solar transmittance over that of the same glass without a film"},
		{Name: "gain_kept", Worse: -1, Followed: study.FollowedSolarT(), kept: true,
			About: "gain over that at the baseline"},
		{Name: "solid", LevelUnit: "nm", Unit: "nm", Worse: -1,
			Followed: nm(func(r *study.Result) *study.Measure { return &r.Solid }, study.OutSolid), About: "material left"},
		{Name: "thickness", LevelUnit: "nm", Unit: "nm", Worse: -1,
			Followed: nm(func(r *study.Result) *study.Measure { return &r.Thickness }, study.OutThickness),
			About:    "thickness of the equivalent uniform film"},
		{Name: "optical_thickness", LevelUnit: "nm", Unit: "nm", Worse: -1, About: "its index times its thickness, at 550 nm",
			Followed: alone(func(r *study.Result) *study.Measure { return &r.OpticalThickness })},
		{Name: "film_index", About: "its index at 550 nm",
			Followed: alone(func(r *study.Result) *study.Measure { return &r.FilmIndex })},
		{Name: "porosity", About: "its optical share of voids",
			Followed: alone(func(r *study.Result) *study.Measure { return &r.Porosity })},
		{Name: "bare_fraction", Worse: +1, About: "share of the spot with no film left",
			Followed: alone(func(r *study.Result) *study.Measure { return &r.BareFraction })},
	}
	for _, m := range study.Measurands() {
		q := Quantity{Name: m.Name, LevelUnit: m.Unit, Unit: m.Unit, Measured: true, measurand: m.Name,
			About: strings.ReplaceAll(m.Name, "_", " ") + " by another instrument"}
		switch m.Name {
		case study.MeasuredThickness:
			q.Name, q.Worse = "measured_thickness", -1
		case "haze":
			q.Unit, q.Worse = "pp", +1
		case "gloss", "mass":
			q.Worse = -1
		}
		all = append(all, q)
	}
	return all
}

// Find returns the quantity of a name, or of that of its column in results; ok is false if there is none.
func Find(name string) (q Quantity, ok bool) {
	all := Quantities()
	for _, suffix := range []string{"", "_pp", "_nm", "_550nm"} {
		short, cut := strings.CutSuffix(name, suffix)
		k := slices.IndexFunc(all, func(q Quantity) bool { return q.Name == short && (suffix == "" || !q.Measured) })
		if cut && k >= 0 {
			return all[k], true
		}
	}
	return Quantity{}, false
}

// Names returns the names of all quantities.
func Names() (names []string) {
	for _, q := range Quantities() {
		names = append(names, q.Name)
	}
	return names
}
