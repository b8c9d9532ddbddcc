package sheet

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// The columns of the register, and those that may be left out.
var (
	instrumentColumns  = []string{"instrument", "serial", "kind", "cone_deg", "slit_nm", "join_nm", "u_join"}
	instrumentOptional = []string{"note", "u_zero", "u_place", "u_tilt", "u_place_zero", "u_wavelength_nm",
		"geometry"}
	eventColumns     = []string{"instrument", "date", "event"}
	referenceColumns = []string{"reference", "serial", "certificate", "issued", "expires", "u_scale", "values"}
	standardColumns  = []string{"standard", "serial", "certificate", "issued", "expires", "quantity",
		"wavelength_nm", "angle_deg", "polarisation", "value", "u"}
	sessionColumns = []string{"session", "instrument", "date", "operator", "reference", "humidity_percent",
		"temperature_c", "condition"}
	standardReadingColumns = []string{"session", "standard", "angle_deg", "polarisation", "value"}
	referenceTableColumns  = []string{"angle_deg", "polarisation", "wavelength_nm", "value", "u"}

	sessionOptional = []string{"note", "pore_water", "u_pore_water"}
	noteColumn      = []string{"note"}
	replicateColumn = []string{"replicate"}
)

// addRegister reads a sheet of the register into r and reports false if its header is
// that of none.
func (r *Roster) addRegister(s *Table) (known bool, err error) {
	has := func(column string) bool { return slices.Contains(s.columns, column) }
	switch {
	case has("session") && has("standard"):
		r.Checks, err = readRows(s, standardReadingColumns, replicateColumn, r.Checks, (*Row).standardReading)
	case has("standard"):
		r.Standards, err = readRows(s, standardColumns, noteColumn, r.Standards, (*Row).standard)
	case has("session"):
		r.Sessions, err = readRows(s, sessionColumns, sessionOptional, r.Sessions, (*Row).session)
	case has("reference"):
		r.References, err = readRows(s, referenceColumns, noteColumn, r.References, (*Row).reference)
	case has("event"):
		r.Events, err = readRows(s, eventColumns, noteColumn, r.Events, (*Row).event)
	case has("instrument"):
		r.Instruments, err = readRows(s, instrumentColumns, instrumentOptional, r.Instruments, (*Row).instrument)
	default:
		return false, nil
	}
	return true, err
}

// registers returns the column of the name that rows of a sheet of the register define; empty: they define none.
func (s *Table) registers() string {
	has := func(column string) bool { return slices.Contains(s.columns, column) }
	switch {
	case has("session") && has("standard"), has("event"):
		return ""
	case has("standard"):
		return "standard"
	case has("session"):
		return "session"
	case has("reference"):
		return "reference"
	case has("instrument"):
		return "instrument"
	}
	return ""
}

// registerHeaders says what the headers of the register are.
func registerHeaders() string {
	var all []string
	for _, h := range []struct {
		name    string
		columns []string
	}{{"instruments", instrumentColumns}, {"their events", eventColumns}, {"references", referenceColumns},
		{"check standards", standardColumns},
		{"sessions", sessionColumns}, {"readings of check standards", standardReadingColumns}} {
		all = append(all, h.name+" "+strings.Join(h.columns, ","))
	}
	return strings.Join(all, "; ")
}

func (r *Row) instrument() study.Instrument {
	i := study.Instrument{Instrument: r.needed("instrument"), Serial: r.Text("serial"), Kind: r.Text("kind"),
		ConeDeg: r.number("cone_deg"),
		SlitNM:  r.number("slit_nm"), UJoin: r.number("u_join"), Note: r.Text("note"),
		UZero: r.uncertainty("u_zero", 0.05), UPlace: r.uncertainty("u_place", 0.5), UTiltDeg: r.uncertainty("u_tilt", 5),
		UPlaceZero: r.uncertainty("u_place_zero", 0.05), UWavelengthNM: r.uncertainty("u_wavelength_nm", 2)}
	for _, word := range strings.Fields(r.Text("join_nm")) {
		nm, err := strconv.ParseFloat(word, 64)
		if err != nil {
			r.Refuse("join_nm", "write wavelengths in nm with spaces between them, such as 860 or 350 860",
				"%q is not a wavelength", word)
		}
		i.JoinsNM = append(i.JoinsNM, nm)
	}
	for _, word := range strings.Fields(r.Text("geometry")) {
		if !slices.Contains(study.Geometries(), word) || slices.Contains(i.Geometries, word) {
			r.Refuse("geometry", "write those that the instrument can read, each once with spaces between them, of "+
				strings.Join(study.Geometries(), ", "), "%q is no geometry, or stands twice", word)
		}
		i.Geometries = append(i.Geometries, word)
	}
	if len(i.JoinsNM) > 0 && !(i.UJoin > 0) {
		r.Refuse("u_join", "give the standard uncertainty of the step at a join as a fraction, such as 0.001",
			"join_nm names joins, and nothing says how large the step at a join may be")
	}
	if len(i.JoinsNM) == 0 && i.UJoin.Valid() {
		r.Refuse("join_nm", "give the wavelength where another detector takes over, or leave u_join empty",
			"u_join is given, and no join")
	}
	return i
}

func (r *Row) event() study.Event {
	return study.Event{Instrument: r.needed("instrument"), Date: r.neededDate("date"),
		Event: r.word("event", "lamp", "detector", "service"), Note: r.Text("note")}
}

func (r *Row) reference() study.Reference {
	c := study.Reference{Reference: r.needed("reference"), Serial: r.Text("serial"), Certificate: r.needed("certificate"),
		UScale: r.number("u_scale"),
		Table:  r.Text("values"), Note: r.Text("note")}
	c.Issued, c.Expires = r.validity()
	if c.UScale.Valid() && !(c.UScale > 0 && c.UScale < 1) {
		r.Refuse("u_scale", "give the standard uncertainty of the scale, half the expanded one, as a fraction such as 0.004",
			"%g is not a standard uncertainty of a scale of about 1", float64(c.UScale))
	}
	return c
}

func (r *Row) standard() study.Standard {
	c := study.Standard{Standard: r.needed("standard"), Serial: r.Text("serial"), Certificate: r.needed("certificate"),
		Quantity:     r.word("quantity", study.StandardQuantities()...),
		WavelengthNM: r.number("wavelength_nm"), Note: r.Text("note")}
	c.Issued, c.Expires = r.validity()
	c.AngleDeg, c.Polarisation = r.setting()
	switch {
	case c.Quantity == study.Line:
		c.Value, c.U = r.nanometres("value"), float64(r.number("u"))
	case c.Quantity == study.Zero && r.Text("u") == "":
		c.Value, c.U = r.fraction("value", 0, 1), study.UTrap
	default:
		c.Value, c.U = r.fraction("value", 0, 1), r.fraction("u", 0, 1)
	}
	single := c.Quantity == "R" || c.Quantity == "T"
	switch {
	case single && !(c.WavelengthNM > 0):
		r.Refuse("wavelength_nm", "give the wavelength in nm, or write solar_"+c.Quantity+" for a weighted value",
			"%s is certified at a wavelength, which is not given", c.Quantity)
	case c.Quantity == study.Zero && c.WavelengthNM.Valid():
		r.Refuse("wavelength_nm", "leave the cell empty", "a light trap has one value for all wavelengths")
	case c.Quantity == study.Line && c.WavelengthNM.Valid():
		r.Refuse("wavelength_nm", "leave the cell empty", "the wavelength of a line is its value")
	case c.Quantity == study.Line && !(c.U > 0 && c.U <= mostULineNM):
		r.Refuse("u", "give the standard uncertainty in nm, half the expanded one of the certificate",
			"%g nm is no standard uncertainty of a line", c.U)
	case !single && c.WavelengthNM.Valid():
		r.Refuse("wavelength_nm", "leave the cell empty, or write R or T for a value at this wavelength",
			"%s is weighted over the spectrum, so it has no wavelength", c.Quantity)
	case c.U == 0:
		r.Refuse("u", "give the standard uncertainty, half the expanded one of the certificate, as a fraction",
			"an uncertainty of 0 is none")
	}
	return c
}

func (r *Row) session() study.Session {
	s := study.Session{Session: r.needed("session"), Instrument: r.needed("instrument"), Date: r.neededDate("date"),
		Operator: r.Text("operator"), Reference: r.Text("reference"),
		HumidityPercent: r.number("humidity_percent"), TemperatureC: r.number("temperature_c"),
		Condition: r.word("condition", "", "as_found", "rinsed", "cleaned"), Note: r.Text("note")}
	s.PoreWater = r.stated("pore_water", 1, "give the share of the pores that water filled, such as 0.3, "+
		"or leave both cells of pore water empty")
	s.UPoreWater = r.stated("u_pore_water", 0.5, "give the standard uncertainty of that share, such as 0.1")
	switch {
	case s.PoreWater.Is && !s.UPoreWater.Is:
		r.Refuse("u_pore_water", "give its standard uncertainty, a share of the pores: 0.17 for 0.3 of which nothing better is known",
			"water in the pores is declared, and not how well its share is known")
	case s.UPoreWater.Is && !s.PoreWater.Is:
		r.Refuse("pore_water", "give the share of the pores that water filled, or leave both empty",
			"an uncertainty is given, and no water in the pores")
	}
	if h := s.HumidityPercent; h.Valid() && !(h >= 0 && h <= 100) {
		r.Refuse("humidity_percent", "give the relative humidity in percent", "%g %% is not a relative humidity", float64(h))
	}
	return s
}

func (r *Row) standardReading() study.StandardReading {
	c := r.standardReadingKey()
	if r.needed("value"); r.number("value") >= LeastLineNM { // of a line: whether it is one, the certificate says
		c.Value = r.nanometres("value")
	} else {
		c.Value = r.fraction("value", -0.1, 2)
	}
	return c
}

// neededDate returns a date that must not be empty.
func (r *Row) neededDate(column string) string {
	r.needed(column)
	return r.date(column)
}

// validity returns when a certificate was issued and when it expires, which may be
// empty.
func (r *Row) validity() (issued, expires string) {
	issued, expires = r.neededDate("issued"), r.date("expires")
	if expires != "" && expires < issued {
		r.Refuse("expires", "correct the dates", "the certificate expires on %s, before it was issued on %s", expires, issued)
	}
	return issued, expires
}

// setting returns the angle and polarisation.
func (r *Row) setting() (angleDeg float64, polarisation string) {
	r.needed("angle_deg")
	angleDeg = float64(r.number("angle_deg"))
	if !(angleDeg >= 0 && angleDeg < 90) {
		r.Refuse("angle_deg", "give the angle from the normal in degrees", "%g degrees is outside 0 to below 90", angleDeg)
	}
	return angleDeg, r.word("polarisation", "s", "p", "u", "n")
}

// uncertainty returns a standard uncertainty up to most, in the unit of its column, which is stated unless the cell is
// empty. 0 says that there is no such error.
func (r *Row) uncertainty(column string, most float64) study.Stated {
	return r.stated(column, most, "give the standard uncertainty "+unitsOfUncertainties[column]+
		", or leave the cell empty to use the default")
}

// stated returns a number from 0 to most, if there is one. try says what to give instead of another.
func (r *Row) stated(column string, most float64, try string) study.Stated {
	u := r.number(column)
	if u.Valid() && !(u >= 0 && float64(u) <= most) {
		r.Refuse(column, try, "%g is outside 0 to %g", float64(u), most)
		return study.Stated{}
	}
	if !u.Valid() {
		return study.Stated{}
	}
	return study.Stated{Value: float64(u), Is: true}
}

// unitsOfUncertainties says in which unit the uncertainties of a roster are, by column.
var unitsOfUncertainties = map[string]string{
	"u_zero":          "of what is added to readings in a session, as a fraction such as 0.0003",
	"u_place":         "of the factor of a placement, as a fraction such as 0.002",
	"u_tilt":          "of the tilt of a placement, in degrees such as 0.05",
	"u_place_zero":    "of what is added to readings in a placement, as a fraction such as 0.0002",
	"u_wavelength_nm": "of the wavelengths of a session, in nm such as 0.3",
	"u_index":         "of the index of the batch, such as 0.0005",
	"leak": "of a far face that should return no light, or of the return spectrum of a laminated one, as a " +
		"fraction such as 0.0002",
}

// LeastLineNM and mostLineNM are the wavelengths that a line can have, in nm; mostULineNM is the largest standard
// uncertainty of one.
const (
	LeastLineNM, mostLineNM = 100, 5000
	mostULineNM             = 5
)

// nanometres returns the wavelength of a line in nm.
func (r *Row) nanometres(column string) float64 {
	r.needed(column)
	v := float64(r.number(column))
	if !(v >= LeastLineNM && v <= mostLineNM) {
		r.Refuse(column, "write the wavelength of the line in nm", "%g is outside %d to %d", v, LeastLineNM, mostLineNM)
	}
	return v
}

// fraction returns a reflectance or transmittance from lo to hi.
func (r *Row) fraction(column string, lo, hi float64) float64 {
	r.needed(column)
	v := float64(r.number(column))
	if !(v >= lo && v <= hi) {
		r.Refuse(column, "write a fraction: 0.042 for 4.2 %", "%g is outside %g to %g", v, lo, hi)
	}
	return v
}

// ReadReferenceTable reads the certified values of a reference: the header
// angle_deg,polarisation,wavelength_nm,value,u, then one row for each, the wavelengths
// of an angle and polarisation rising. The curves come in the order of angle and
// polarisation. Every error is a [*study.Refusal].
func ReadReferenceTable(name string, data []byte) ([]study.ReferenceCurve, error) {
	s, err := open(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(referenceTableColumns, nil); err != nil {
		return nil, err
	}
	var curves []study.ReferenceCurve
	for i := range s.rows {
		r := &s.rows[i]
		angle, pol := r.setting()
		r.needed("wavelength_nm")
		nm, value, u := float64(r.number("wavelength_nm")), r.fraction("value", 0, 1), r.fraction("u", 0, 1)
		k := slices.IndexFunc(curves, func(c study.ReferenceCurve) bool {
			return c.AngleDeg == angle &&
				c.Polarisation == pol
		})
		if k < 0 {
			k, curves = len(curves), append(curves, study.ReferenceCurve{AngleDeg: angle, Polarisation: pol})
		}
		c := &curves[k]
		if n := len(c.NM); !(nm > 0) || n > 0 && nm <= c.NM[n-1] {
			r.Refuse("wavelength_nm", "sort the rows of an angle and polarisation by wavelength, in nm, each once",
				"%g is not larger than in the row before at %g degrees, %s", nm, angle, pol)
		}
		if r.Err != nil {
			return nil, r.Err
		}
		c.NM, c.Values, c.U = append(c.NM, nm), append(c.Values, value), append(c.U, u)
	}
	if len(curves) == 0 {
		return nil, &study.Refusal{File: name, Fault: "the table of the reference has no rows", Try: "write " +
			strings.Join(referenceTableColumns, ",") + ", one row a wavelength"}
	}
	for i := range curves {
		if c := &curves[i]; len(c.NM) < 2 {
			return nil, &study.Refusal{File: name, Fault: "the curve at " + strconv.FormatFloat(c.AngleDeg, 'g', -1, 64) +
				" degrees, " + c.Polarisation + ", has one row; two are the least",
				Try: "give its values at both ends of the range at least"}
		}
	}
	slices.SortFunc(curves, func(a, b study.ReferenceCurve) int {
		return cmp.Or(cmp.Compare(a.AngleDeg, b.AngleDeg), strings.Compare(a.Polarisation, b.Polarisation))
	})
	return curves, nil
}
