package sheet

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"

	"wane/study"
)

// Measured is a row of a table of measurements.
type Measured struct {
	study.Measurement
	Picture string // relative to the folder of the table; empty for none
}

var (
	measuredColumns = []string{"coupon", "pull", "spot", "quantity", "value", "u", "unit", "method", "date", "operator",
		"picture", "note"}
	measuredOptional = []string{"condition", "replicate"}
)

// ReadMeasured reads a table of what other instruments read of coupons. Notes are of lines
// that were taken for comments. Every error is a [*study.Refusal].
func ReadMeasured(name string, data []byte) (lines []Line[Measured], notes []string, err error) {
	s, err := open(name, data)
	if err != nil {
		return nil, nil, err
	}
	if err := s.names(measuredColumns, measuredOptional); err != nil {
		return nil, nil, err
	}
	for i := range s.rows {
		r := &s.rows[i]
		m := r.measured()
		if r.Err != nil {
			return nil, nil, r.Err
		}
		lines = append(lines, Line[Measured]{s.File, r.Line, m})
	}
	return lines, s.Notes(), nil
}

func (r *Row) measured() Measured {
	m := Measured{
		Measurement: study.Measurement{
			Coupon: r.needed("coupon"), Pull: r.whole("pull", 0), Spot: r.Text("spot"),
			Condition: r.word("condition", conditions...),
			Method:    r.needed("method"), Replicate: r.replicate(), Operator: r.Text("operator"), Note: r.Text("note"), Line: r.Line,
		},
		Picture: r.Text("picture"),
	}
	m.Quantity, m.Value = r.measurand()
	m.U = r.number("u")
	if m.U.Valid() && m.U <= 0 {
		r.Refuse("u", "write the standard uncertainty in the unit of the value, or leave the cell empty if it is not known",
			"%s is not a standard uncertainty, which is larger than 0", r.Text("u"))
	}
	r.needed("date")
	m.Date = r.date("date")
	if m.Picture != "" && !filepath.IsLocal(filepath.FromSlash(m.Picture)) {
		r.Refuse("picture", "put the picture into the folder of this table, or below it, and write the path from there",
			"%s is not within the folder of this table", study.Shown(m.Picture))
	}
	return m
}

// measurand returns what the row is of, and its value, which must be in the unit of
// that.
func (r *Row) measurand() (name string, value study.Num) {
	all := study.Measurands()
	var names []string
	for _, q := range all {
		names = append(names, q.Name)
	}
	name = r.word("quantity", names...)
	r.needed("unit")
	r.needed("value")
	value = r.number("value")
	at := slices.Index(names, name)
	if at < 0 {
		return name, value
	}
	q := all[at]
	if r.Text("unit") == "%" && q.Unit == "percent" {
		r.note("unit", "%", q.Unit)
	} else if unit := r.Text("unit"); unit != q.Unit {
		try := "convert value and u, and write " + q.Unit + " as unit"
		if k := slices.IndexFunc(all, func(other study.Measurand) bool { return other.Unit == unit }); k >= 0 {
			try = "if it is a value of " + all[k].Name + ", write " + all[k].Name + " as its quantity; else read it in " + q.Unit
		}
		r.Refuse("unit", try,
			"%s is in %s here, not in %q", name, q.Unit, unit)
	}
	if v := float64(value); v < q.Least || v > q.Most {
		r.Refuse("value", "check the value and its unit", "%s %s is no %s, which is %s", r.Text("value"), q.Unit, name,
			boundsOf(q))
	}
	return name, value
}

func boundsOf(q study.Measurand) string {
	if q.Most > 1e300 {
		return "at least " + strconv.FormatFloat(q.Least, 'g', -1, 64)
	}
	return fmt.Sprintf("%g to %g", q.Least, q.Most)
}
