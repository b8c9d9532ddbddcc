package intake

import (
	"strings"

	"wane/study"
)

// Placing is a row of a map: one column of one export, what it holds and where
// it belongs.
type Placing struct {
	File   string // relative to the map's folder
	Column string // a heading, or #3 counting the wavelength column as 1
	study.Place
	Stated                      Stated
	Session, Operator, Geometry string
	OrientationDeg              study.Num
}

var (
	mapColumns   = []string{"file", "column", "coupon", "pull", "spot", "angle_deg", "polarisation", "quantity", "unit"}
	mapOptional  = []string{"wavelength_unit", "replicate", "session", "condition", "operator", "geometry", "orientation_deg"}
	geometries   = []string{"", "specular", "total_included", "total_excluded", "mixed"}
	conditions   = []string{"", "as_found", "rinsed", "cleaned"}
	polarisation = []string{"s", "p", "u", "n"}
)

// ReadMap reads a map. Every error is a [*study.Refusal].
func ReadMap(name string, data []byte) ([]Line[Placing], error) {
	s, err := openSheet(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(mapColumns, mapOptional); err != nil {
		return nil, err
	}
	var lines []Line[Placing]
	for i := range s.rows {
		r := &s.rows[i]
		p := r.placing()
		if r.err != nil {
			return nil, r.err
		}
		lines = append(lines, Line[Placing]{s.file, r.line, p})
	}
	return lines, nil
}

func (r *sheetRow) placing() Placing {
	p := Placing{
		File: r.needed("file"), Column: r.needed("column"),
		Place: study.Place{
			Coupon: r.needed("coupon"), Pull: r.whole("pull", 0), Spot: r.needed("spot"),
			Condition: r.word("condition", conditions...), Polarisation: r.word("polarisation", polarisation...),
			Quantity: study.Quantity(r.word("quantity", "", "R")), Replicate: 1,
		},
		Stated: Stated{Unit: r.word("unit", "", "fraction", "percent"), WavelengthUnit: r.word("wavelength_unit", "", "nm", "um"),
			Quantity: r.text("quantity")},
		Session: r.text("session"), Operator: r.text("operator"), Geometry: r.word("geometry", geometries...),
		OrientationDeg: r.number("orientation_deg"),
	}
	r.needed("angle_deg")
	p.AngleDeg = float64(r.number("angle_deg"))
	if !(p.AngleDeg >= 0 && p.AngleDeg < 90) {
		r.refuse("angle_deg", "state the angle from the normal, in degrees", "%s is outside 0 to below 90", r.text("angle_deg"))
	}
	if r.text("replicate") != "" {
		p.Replicate = r.whole("replicate", 1)
	}
	if strings.HasPrefix(p.File, "/") {
		r.refuse("file", "write the path from the map's folder", "%s is not relative to the map's folder", p.File)
	}
	return p
}
