package study

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
}

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
		FilmK: none, Absorbed: none, Scale: none,
		SolarTData: null, SolarShareCovered: null, Noise: null, RMSResidual: null, ReducedChi2: null, Points: null,
	}
}

// Column is one column of results; exactly one of the functions is set.
type Column struct {
	Name  string
	Text  func(*Result) string // empty: null
	Num   func(*Result) Num
	Words func(*Result) []string
}

// Columns returns the columns of results in their order, which outside programs
// rely on.
func Columns() []Column {
	columns := []Column{
		{Name: "coupon", Text: func(r *Result) string { return r.Coupon }},
		{Name: "role", Text: func(r *Result) string { return r.Role }},
		{Name: "supplier", Text: func(r *Result) string { return r.Supplier }},
		{Name: "coating", Text: func(r *Result) string { return r.Coating }},
		{Name: "lot", Text: func(r *Result) string { return r.Lot }},
		{Name: "exposure", Text: func(r *Result) string { return r.Exposure }},
		{Name: "pull", Num: func(r *Result) Num { return r.Pull }},
		{Name: "dose", Num: func(r *Result) Num { return r.Dose }},
		{Name: "dose_unit", Text: func(r *Result) string { return r.DoseUnit }},
		{Name: "date", Text: func(r *Result) string { return r.Date }},
		{Name: "spot", Text: func(r *Result) string { return r.Spot }},
		{Name: "session", Text: func(r *Result) string { return r.Session }},
		{Name: "condition", Text: func(r *Result) string { return r.Condition }},
		{Name: "state", Text: func(r *Result) string { return string(r.State) }},
	}
	columns = append(columns, measure("solar_T", func(r *Result) *Measure { return &r.SolarT })...)
	columns = append(columns, measure("cell_T", func(r *Result) *Measure { return &r.CellT })...)
	columns = append(columns, measure("gain_pp", func(r *Result) *Measure { return &r.Gain })...)
	columns = append(columns, measure("gain_kept", func(r *Result) *Measure { return &r.GainKept })...)
	columns = append(columns, measure("change_pp", func(r *Result) *Measure { return &r.Change })...)
	columns = append(columns, measure("corrected_change_pp", func(r *Result) *Measure { return &r.CorrectedChange })...)
	columns = append(columns,
		Column{Name: "change_unseen_pp", Num: func(r *Result) Num { return r.ChangeUnseen }},
		Column{Name: "correction", Text: func(r *Result) string { return r.Correction }},
		Column{Name: "n_controls", Num: func(r *Result) Num { return r.NControls }},
	)
	columns = append(columns, measure("thickness_nm", func(r *Result) *Measure { return &r.Thickness })...)
	columns = append(columns, measure("porosity", func(r *Result) *Measure { return &r.Porosity })...)
	columns = append(columns, measure("bare_fraction", func(r *Result) *Measure { return &r.BareFraction })...)
	columns = append(columns, measure("solid_nm", func(r *Result) *Measure { return &r.Solid })...)
	columns = append(columns, measure("optical_thickness_nm", func(r *Result) *Measure { return &r.OpticalThickness })...)
	columns = append(columns, measure("film_index_550nm", func(r *Result) *Measure { return &r.FilmIndex })...)
	columns = append(columns, measure("scale", func(r *Result) *Measure { return &r.Scale })...)
	columns = append(columns,
		Column{Name: "solar_T_data", Num: func(r *Result) Num { return r.SolarTData }},
		Column{Name: "solar_share_covered", Num: func(r *Result) Num { return r.SolarShareCovered }},
		Column{Name: "noise", Num: func(r *Result) Num { return r.Noise }},
		Column{Name: "rms_residual", Num: func(r *Result) Num { return r.RMSResidual }},
		Column{Name: "reduced_chi2", Num: func(r *Result) Num { return r.ReducedChi2 }},
		Column{Name: "points", Num: func(r *Result) Num { return r.Points }},
		Column{Name: "model", Text: func(r *Result) string { return r.Model }},
		Column{Name: "flags", Words: func(r *Result) []string { return r.Flags }},
	)
	columns = append(columns, measure("film_k", func(r *Result) *Measure { return &r.FilmK })...)
	return append(columns, measure("absorbed_pp", func(r *Result) *Measure { return &r.Absorbed })...)
}

// measure returns the columns NAME and u_NAME of a quantity.
func measure(name string, of func(*Result) *Measure) []Column {
	return []Column{
		{Name: name, Num: func(r *Result) Num { return of(r).Value }},
		{Name: "u_" + name, Num: func(r *Result) Num { return of(r).U }},
	}
}
