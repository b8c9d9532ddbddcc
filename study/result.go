package study

import "slices"

// Measure is a quantity with its standard uncertainty, either of which may be
// null: a pinned quantity has a value and no uncertainty.
type Measure struct{ Value, U Num }

// NoMeasure is a quantity that does not apply.
func NoMeasure() Measure { return Measure{Null(), Null()} }

// Result is what is known of one coupon at one pull and spot: one row of
// results. Units are in the names of [Columns].
type Result struct {
	Coupon, Role, Supplier, Coating, Lot, Exposure string
	Pull, Dose                                     Num
	DoseUnit, Date, Spot, Session, Condition       string

	State           State
	SolarT, CellT   Measure
	Gain            Measure // pp
	GainKept        Measure
	Change          Measure // pp
	CorrectedChange Measure // pp
	ChangeUnseen    Num     // pp

	// ChangeTerms and CorrectedTerms are the weighted sums of results that Change and CorrectedChange are, in pp; none
	// where they are null, or 0 by definition. They are no columns.
	ChangeTerms, CorrectedTerms []Weighted

	// Fit is the fit that the row is of; nil in rows made otherwise. It is no column.
	Fit *Fit

	Correction string
	NControls  Num

	Thickness        Measure // nm
	Porosity         Measure
	BareFraction     Measure
	Solid            Measure // nm
	OpticalThickness Measure // nm
	FilmIndex        Measure // at 550 nm
	FilmK            Measure // imaginary part of the index of the film, at all wavelengths; null without transmittance
	Absorbed         Measure // pp: what film and residue absorb, weighted as solar_T; null without transmittance
	Scale            Measure

	SolarTData        Num
	SolarShareCovered Num
	Noise             Num
	RMSResidual       Num
	ReducedChi2       Num
	Points            Num
	Model             string
	Flags             []string

	// Cleanings and Rinses are how often the coupon had been cleaned and rinsed before it was read, by its events.
	Cleanings, Rinses Num
	BaselinePull      Num    // with which the history of the coupon begins
	SpotPosition      string // of the spot on the coupon
	RackPosition      string // of the coupon on the rack
}

// IsBaseline reports whether the row is at the pull with which the history of its coupon begins.
func (r *Result) IsBaseline() bool { return r.Pull == r.BaselinePull }

// IsLossless reports whether the solar values take the film as lossless: they come from reflectance alone.
func (r *Result) IsLossless() bool { return r.SolarT.Value.Valid() && !r.Absorbed.Value.Valid() }

// NewResult returns a result in which nothing applies yet.
func NewResult() Result {
	none, null := NoMeasure(), Null()
	return Result{
		Pull: null, Dose: null,
		SolarT: none, CellT: none, Gain: none, GainKept: none, Change: none, CorrectedChange: none,
		ChangeUnseen: null, NControls: null,
		Thickness: none, Porosity: none, BareFraction: none, Solid: none, OpticalThickness: none, FilmIndex: none,
		FilmK: none, Absorbed: none, Scale: none, Cleanings: null, Rinses: null, BaselinePull: null,
		SolarTData: null, SolarShareCovered: null, Noise: null, RMSResidual: null, ReducedChi2: null, Points: null,
	}
}

// Column is one column of results; exactly one of the functions is set.
type Column struct {
	Name  string
	Unit  string               // empty: none
	About string               // what it means
	Whole bool                 // its numbers are whole
	Text  func(*Result) string // empty: null
	Num   func(*Result) Num
	Words func(*Result) []string
}

// Columns returns the columns of results in their order, which outside programs
// rely on.
func Columns() []Column {
	return slices.Concat(placeColumns(), filmColumns(), []Column{
		{Name: "solar_T_data", Unit: "fraction", Num: func(r *Result) Num { return r.SolarTData },
			About: "1 - the weighted mean of the readings themselves, at the smallest angle up to 15 degrees, over the band " +
				"that they cover; only for smooth glass with a matched far face"},
		{Name: "solar_share_covered", Unit: "fraction", Num: func(r *Result) Num { return r.SolarShareCovered },
			About: "share of the 300-2500 nm irradiance that the readings cover"},
		{Name: "noise", Unit: "fraction", Num: func(r *Result) Num { return r.Noise },
			About: "standard deviation of the noise of a point, as the fit took it"},
		{Name: "rms_residual", Unit: "fraction", Num: func(r *Result) Num { return r.RMSResidual },
			About: "root mean square of what the fit leaves of the readings"},
		{Name: "reduced_chi2", Num: func(r *Result) Num { return r.ReducedChi2 },
			About: "chi-square of the fit over its degrees of freedom: about 1 where the model describes the curves"},
		{Name: "points", Whole: true, Num: func(r *Result) Num { return r.Points }, About: "how many points the fit is of"},
		{Name: "model", Text: func(r *Result) string { return r.Model },
			About: "`bare` (no film), `film` (taken as lossless), `film+k` (transmittance was read too)"},
		{Name: "flags", Words: func(r *Result) []string { return r.Flags },
			About: "what to think of the row: `wane help reading-results`"},
	}, measure("film_k", "", func(r *Result) *Measure { return &r.FilmK },
		"k of the film; null where reflectance alone was read, which takes the film as lossless"),
		measure("absorbed_pp", "pp", func(r *Result) *Measure { return &r.Absorbed },
			"what film and residue absorb of sunlight, subtracted in the solar values; null where reflectance alone was read"),
		lifeColumns())
}

// lifeColumns are the columns that say what the coupon went through, and where it hangs.
func lifeColumns() []Column {
	return []Column{
		{Name: "cleanings", Whole: true, Num: func(r *Result) Num { return r.Cleanings },
			About: "how often the coupon had been cleaned before it was read, by its events: `wane help events`"},
		{Name: "rinses", Whole: true, Num: func(r *Result) Num { return r.Rinses },
			About: "how often it had been rinsed before"},
		{Name: "baseline_pull", Whole: true, Num: func(r *Result) Num { return r.BaselinePull },
			About: "pull with which the history of the coupon begins"},
		{Name: "spot_position", Text: func(r *Result) string { return r.SpotPosition },
			About: "where the spot lies on the coupon, in the words of the laboratory"},
		{Name: "rack_position", Text: func(r *Result) string { return r.RackPosition },
			About: "where the coupon hangs on the rack, in the words of the laboratory"},
	}
}

// placeColumns are the columns that say what the row is of.
func placeColumns() []Column {
	return []Column{
		{Name: "coupon", Text: func(r *Result) string { return r.Coupon }, About: "code of the coupon"},
		{Name: "role", Text: func(r *Result) string { return r.Role },
			About: "`exposed`, `control`, `blank` or `blank-exposed`"},
		{Name: "supplier", Text: func(r *Result) string { return r.Supplier }, About: "who made the coating"},
		{Name: "coating", Text: func(r *Result) string { return r.Coating }, About: "what is on the glass"},
		{Name: "lot", Text: func(r *Result) string { return r.Lot }, About: "which batch of the coating"},
		{Name: "exposure", Text: func(r *Result) string { return r.Exposure },
			About: "arm of the study; of a control, the one that it accompanies, null: all"},
		{Name: "pull", Whole: true, Num: func(r *Result) Num { return r.Pull },
			About: "number of the pull; 0 is the baseline before exposure"},
		{Name: "dose", Unit: "that of dose_unit", Num: func(r *Result) Num { return r.Dose },
			About: "what the coupon had received at the pull since its baseline; null for controls and blanks kept in the dark"},
		{Name: "dose_unit", Text: func(r *Result) string { return r.DoseUnit },
			About: "`days`, `hours`, `cycles` or `kWh/m2`"},
		{Name: "date", Unit: "ISO 8601", Text: func(r *Result) string { return r.Date }, About: "date of the pull"},
		{Name: "spot", Text: func(r *Result) string { return r.Spot }, About: "marked place on the coupon"},
		{Name: "session", Text: func(r *Result) string { return r.Session }, About: "sitting at the instrument"},
		{Name: "condition", Text: func(r *Result) string { return r.Condition },
			About: "`as_found`, `rinsed` or `cleaned`; null: not stated"},
		{Name: "state", Text: func(r *Result) string { return string(r.State) },
			About: "`full`, `thinned`, `patchy`, `stripped` or `unclear`, by written rules"},
	}
}

// filmColumns are the columns of values that have an uncertainty, and what belongs to them.
func filmColumns() []Column {
	return slices.Concat(
		measure("solar_T", "fraction", func(r *Result) *Measure { return &r.SolarT },
			"1 - R of the fitted front surface at normal incidence, weighted by the ASTM G173-03 global tilt irradiance "+
				"over 300-2500 nm"),
		measure("cell_T", "fraction", func(r *Result) *Measure { return &r.CellT },
			"the same as `solar_T`, weighted by photons over 300-1200 nm"),
		measure("gain_pp", "pp", func(r *Result) *Measure { return &r.Gain },
			"`solar_T` less that of the same glass without a film, its index as the fit found it"),
		measure("gain_kept", "fraction", func(r *Result) *Measure { return &r.GainKept },
			"`gain_pp` over that at the baseline"),
		measure("change_pp", "pp", func(r *Result) *Measure { return &r.Change },
			"`solar_T` less that at the baseline of the same spot: `wane help changes`"),
		measure("corrected_change_pp", "pp", func(r *Result) *Measure { return &r.CorrectedChange },
			"the change less what the controls or the session changed: `wane help changes`"),
		[]Column{
			{Name: "change_unseen_pp", Unit: "pp", Num: func(r *Result) Num { return r.ChangeUnseen },
				About: "the part of the change at wavelengths that the readings do not cover"},
			{Name: "correction", Text: func(r *Result) string { return r.Correction },
				About: "route of the correction: `none`, `controls` or `session`"},
			{Name: "n_controls", Whole: true, Num: func(r *Result) Num { return r.NControls },
				About: "how many controls correct the change"},
		},
		measure("thickness_nm", "nm", func(r *Result) *Measure { return &r.Thickness },
			"of the equivalent uniform film: the uniform film that reflects most like this film in the curves read"),
		measure("porosity", "fraction", func(r *Result) *Measure { return &r.Porosity },
			"optical share of voids of the equivalent uniform film, by the mixing rule of the study"),
		measure("bare_fraction", "fraction", func(r *Result) *Measure { return &r.BareFraction },
			"share of the spot with no film left, of the same fit"),
		measure("solid_nm", "nm", func(r *Result) *Measure { return &r.Solid },
			"material left: (1 - bare fraction) x (thickness x (1 - porosity) + skin), of the fit in which the structure of "+
				"the film is free; not the product of the other columns"),
		measure("optical_thickness_nm", "nm", func(r *Result) *Measure { return &r.OpticalThickness },
			"index times thickness at 550 nm, of the same fit"),
		measure("film_index_550nm", "", func(r *Result) *Measure { return &r.FilmIndex },
			"index of the film at 550 nm, of the same fit"),
		measure("scale", "", func(r *Result) *Measure { return &r.Scale },
			"factor of the reference error of the session, as the fit found it"),
	)
}

// measure returns the columns NAME and u_NAME of a quantity.
func measure(name, unit string, of func(*Result) *Measure, about string) []Column {
	return []Column{
		{Name: name, Unit: unit, About: about, Num: func(r *Result) Num { return of(r).Value }},
		{Name: "u_" + name, Unit: unit, About: "standard uncertainty of `" + name + "`; null where that is fixed or unknown",
			Num: func(r *Result) Num { return of(r).U }},
	}
}
