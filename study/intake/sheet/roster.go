package sheet

import (
	"maps"
	"slices"
	"strings"

	"wane/study"
)

// Roster gathers the rows of roster files, each with its place.
type Roster struct {
	Exposures []Line[study.Exposure]
	Coupons   []Line[study.Coupon]
	Pulls     []Line[study.Pull]
	Batches   []Line[study.GlassBatch]
	Lives     []Line[study.CouponEvent]
	Doses     []Line[study.DoseReading]

	Instruments []Line[study.Instrument]
	Events      []Line[study.Event]
	References  []Line[study.Reference] // without their curves, which the path in Table leads to
	Standards   []Line[study.Standard]
	Sessions    []Line[study.Session]
	Checks      []Line[study.StandardReading]

	Unread map[Name]bool // what refused rows define; of a pull its exposure

	Notes []string // lines that were taken for comments, and cells that were read in the one way that is possible
}

// Name is a name with the column in which its own row has it.
type Name struct{ Column, Name string }

var (
	exposureColumns = []string{"exposure", "protocol", "site", "dose_unit", "start"}
	couponColumns   = []string{"coupon", "role", "supplier", "coating", "lot", "glass", "glass_mm", "back", "exposure"}
	couponOptional  = []string{"water_repellent", "glass_batch", "leak", "return_spectrum", "baseline_pull",
		"position"}
	batchColumns = []string{"glass", "batch", "u_index", "model"}
	pullColumns  = []string{"exposure", "pull", "dose", "date"}
)

// Add reads one file: coupons, exposures, pulls, batches of glass, events of coupons, doses or a part of the register,
// distinguished by the header. Rows that are refused are left out, and the error has all of them. What rows say of one another
// is not checked here.
func (r *Roster) Add(name string, data []byte) error {
	s, err := open(name, data)
	if err != nil {
		return err
	}
	next := *r
	has, defines := func(column string) bool { return slices.Contains(s.columns, column) }, ""
	switch {
	case has("coupon") && has("event"):
		next.Lives, err = readRows(s, lifeColumns, lifeOptional, next.Lives, (*Row).couponEvent)
	case has("coupon"):
		defines = "coupon"
		next.Coupons, err = readRows(s, couponColumns, couponOptional, next.Coupons, (*Row).coupon)
	case has("pull"):
		defines = "pull"
		next.Pulls, err = readRows(s, pullColumns, nil, next.Pulls, (*Row).pull)
	case has("batch"):
		next.Batches, err = readRows(s, batchColumns, nil, next.Batches, (*Row).glassBatch)
	case has("protocol"):
		defines = "exposure"
		next.Exposures, err = readRows(s, exposureColumns, nil, next.Exposures, (*Row).exposure)
	case has("exposure") && has("value"):
		next.Doses, err = readRows(s, doseColumns, nil, next.Doses, (*Row).doseReading)
	default:
		known := false
		if known, err = next.addRegister(s); !known {
			return &study.Refusal{File: name, Line: 1, Fault: "this is not the header of a roster: " +
				strings.Join(s.columns, ","),
				Try: "coupons have " + strings.Join(couponColumns, ",") + " and, if wanted, " + strings.Join(couponOptional, ",") +
					"; exposures " + strings.Join(exposureColumns, ",") + "; pulls " + strings.Join(pullColumns, ",") +
					"; batches of glass " + strings.Join(batchColumns, ",") +
					"; events of coupons " + strings.Join(slices.Concat(lifeColumns, lifeOptional), ",") +
					"; doses " + strings.Join(doseColumns, ",") +
					"; " + registerHeaders()}
		}
	}
	if defines == "" {
		defines = s.registers()
	}
	next.Notes = append(slices.Clip(next.Notes), s.Notes()...)
	next.Unread = s.unread(defines, r.Unread)
	*r = next
	return err
}

// unread returns names with those that refused rows of the table define, in a column of this name.
func (s *Table) unread(defines string, names map[Name]bool) map[Name]bool {
	all := maps.Clone(names)
	for i := range s.rows {
		if s.rows[i].Err == nil || defines == "" {
			continue
		}
		if all == nil {
			all = map[Name]bool{}
		}
		cell := defines
		if defines == "pull" {
			cell = "exposure"
		}
		all[Name{defines, s.rows[i].Text(cell)}] = true
	}
	return all
}

func readRows[T any](s *Table, columns, optional []string, into []Line[T], read func(*Row) T) ([]Line[T], error) {
	if err := s.names(columns, optional); err != nil {
		return into, err
	}
	into = slices.Clip(into)
	var refused study.Refusals
	for i := range s.rows {
		r := &s.rows[i]
		row := read(r)
		if refused.Note(r.Err) {
			continue
		}
		into = append(into, Line[T]{s.File, r.Line, row})
	}
	return into, refused.Err()
}

func (r *Row) exposure() study.Exposure {
	return study.Exposure{
		Exposure: r.needed("exposure"), Protocol: r.Text("protocol"), Site: r.Text("site"),
		DoseUnit: r.word("dose_unit", "days", "hours", "cycles", "kWh/m2"), Start: r.date("start"),
	}
}

func (r *Row) pull() study.Pull {
	p := study.Pull{Exposure: r.needed("exposure"), Pull: r.whole("pull", 0), Date: r.date("date")}
	r.needed("dose")
	p.Dose = float64(r.number("dose"))
	switch {
	case p.Pull == 0 && p.Dose != 0:
		r.Refuse("dose", "write 0", "pull 0 is before exposure, so its dose is 0, not %g", p.Dose)
	case p.Pull > 0 && p.Dose <= 0:
		r.Refuse("dose", "write the dose at that pull", "the dose of pull %d must be above 0", p.Pull)
	}
	return p
}

func (r *Row) glassBatch() study.GlassBatch {
	return study.GlassBatch{Glass: study.GlassName(r.needed("glass")), Batch: r.needed("batch"),
		UIndex: r.uncertainty("u_index", 0.05), Model: r.Text("model")}
}

func (r *Row) coupon() study.Coupon {
	c := study.Coupon{
		Coupon: r.needed("coupon"),
		Role: study.Role(r.word("role", string(study.Exposed), string(study.Control), string(study.Blank),
			string(study.BlankExposed))),
		Supplier: r.Text("supplier"), Coating: r.Text("coating"), Lot: r.Text("lot"),
		Glass: study.GlassName(r.needed("glass")), GlassMM: r.number("glass_mm"),
		Back:           r.word("back", "matched", "blackened", "bare", "coated", "laminated"),
		Exposure:       r.Text("exposure"),
		WaterRepellent: r.word("water_repellent", "", "yes") == "yes",
		Batch:          r.Text("glass_batch"), Leak: r.uncertainty("leak", 0.05),
		ReturnSpectrum: r.Text("return_spectrum"), Position: r.Text("position"),
	}
	if r.Text("baseline_pull") != "" {
		c.BaselinePull = r.whole("baseline_pull", 0)
	}
	if c.Role.Coated() {
		r.needed("coating")
	} else {
		for _, column := range []string{"supplier", "coating", "lot", "water_repellent"} {
			if v := r.Text(column); v != "" {
				r.Refuse(column, "leave it empty, or correct the role", "a %s has no coating, but the cell says %q", c.Role, v)
			}
		}
	}
	if c.Role == study.Exposed || c.Role == study.BlankExposed {
		r.needed("exposure")
	}
	if through := c.Back == "bare" || c.Back == "coated"; through && !c.GlassMM.Valid() {
		r.Refuse("glass_mm", "give the thickness of the glass in mm",
			"the far face is %s, so the thickness of the glass is needed", c.Back)
	}
	if c.Leak.Is && c.Back != "matched" && c.Back != "laminated" {
		r.Refuse("leak", "leave it empty: only a matched far face leaks by how well it is matched, and only a laminated one has a "+
			"return spectrum with an error",
			"the far face is %s, and a leak of it is stated", c.Back)
	}
	switch laminated := c.Back == "laminated"; {
	case laminated && c.ReturnSpectrum == "":
		r.Refuse("return_spectrum", "name a CSV file wavelength_nm,return with the share of light that comes back from the "+
			"laminate, or read the coupon with a matched far face", "the far face is laminated, and what it returns is not given")
	case !laminated && c.ReturnSpectrum != "":
		r.Refuse("return_spectrum", "leave it empty, or correct the far face",
			"the far face is %s, and a return spectrum is for laminated ones", c.Back)
	}
	if c.GlassMM.Valid() && c.GlassMM <= 0 {
		r.Refuse("glass_mm", "give the thickness of the glass in mm", "%g is not a thickness", float64(c.GlassMM))
	}
	return c
}
