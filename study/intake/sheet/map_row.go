package sheet

import (
	"errors"
	"io"
	"strings"

	"wane/study"
	"wane/study/intake/text"
)

// MapRow is a row of a map: one column of one export, what it holds and where it belongs.
type MapRow struct {
	File   string // relative to the map's folder
	Column string // a heading, or #3 counting the wavelength column as 1
	study.Place
	Stated                      text.Stated
	Session, Operator, Geometry string
	OrientationDeg              study.Num
	HalfAngleDeg                study.Stated // of a mixed geometry
	Mounting                    int          // 0 and 1: the first
	Position                    string       // of the spot on the coupon
}

var (
	mapColumns  = []string{"file", "column", "coupon", "pull", "spot", "angle_deg", "polarisation", "quantity", "unit"}
	mapOptional = []string{"wavelength_unit", "replicate", "session", "condition", "operator", "geometry",
		"orientation_deg", "mounting", "half_angle_deg", "position"}
	geometries   = append([]string{""}, study.Geometries()...)
	conditions   = append([]string{""}, study.Conditions()...)
	polarisation = []string{"s", "p", "u", "n"}
)

// EachMapRow goes through a map whose header was read. Rows share their memory.
func EachMapRow(r *Reader, do func(*Row, MapRow) error) error {
	if err := r.Sheet.names(mapColumns, mapOptional); err != nil {
		return err
	}
	r.csv.ReuseRecord = true
	var row Row
	for {
		err := r.Next(&row)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		p := row.MapRow()
		if row.Err != nil {
			return row.Err
		}
		if err := do(&row, p); err != nil {
			return err
		}
	}
}

// MapRow returns what a row of a map says, or a curve of a profile.
func (r *Row) MapRow() MapRow {
	p := MapRow{
		File: r.needed("file"), Column: r.needed("column"),
		Place: study.Place{
			Coupon: r.needed("coupon"), Pull: r.whole("pull", 0), Spot: r.needed("spot"),
			Condition: r.word("condition", conditions...), Polarisation: r.word("polarisation", polarisation...),
			Quantity: study.Quantity(r.word("quantity", "", "R", "T")), Replicate: 1,
		},
		Stated: text.Stated{Unit: r.unit("unit", "", "fraction", "percent"),
			WavelengthUnit: r.word("wavelength_unit", "", "nm", "um", "cm-1"),
			Quantity:       r.Text("quantity")},
		Session: r.Text("session"), Operator: r.Text("operator"), Geometry: r.word("geometry", geometries...),
		OrientationDeg: r.number("orientation_deg"), Position: r.Text("position"),
	}
	r.needed("angle_deg")
	p.AngleDeg = float64(r.number("angle_deg"))
	if !(p.AngleDeg >= 0 && p.AngleDeg < 90) {
		r.Refuse("angle_deg", "state the angle from the normal, in degrees", "%s is outside 0 to below 90",
			r.Text("angle_deg"))
	}
	if r.Text("replicate") != "" {
		p.Replicate = r.whole("replicate", 1)
	}
	if r.Text("mounting") != "" {
		if n := r.whole("mounting", 1); n > 1 {
			p.Mounting = n
		}
	}
	p.HalfAngleDeg = r.halfAngle(p.Geometry)
	if r.named == nil && strings.HasPrefix(p.File, "/") {
		r.Refuse("file", "write the path from the map's folder", "%s is not relative to the map's folder", p.File)
	}
	return p
}

// halfAngle returns the half-angle of a mixed geometry, which others do not have.
func (r *Row) halfAngle(geometry string) study.Stated {
	switch v := r.number("half_angle_deg"); {
	case geometry == study.MixedGeometry && !v.Valid():
		r.Refuse("half_angle_deg", "add the column: the half-angle in degrees from the mirror direction within which the "+
			"instrument collects light", "the geometry is mixed, and it is not stated how much of the scattered light that is")
	case geometry != study.MixedGeometry && v.Valid():
		r.Refuse("half_angle_deg", "leave it empty, or write mixed for the geometry", "a half-angle belongs to the geometry mixed")
	case v.Valid() && !(v > 0 && v < 90):
		r.Refuse("half_angle_deg", "state the half-angle in degrees", "%g is outside above 0 to below 90", float64(v))
	case v.Valid():
		return study.Stated{Value: float64(v), Is: true}
	}
	return study.Stated{}
}
