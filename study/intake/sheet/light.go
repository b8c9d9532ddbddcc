package sheet

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wane/study"
)

// Incidence is how much light falls in at which angles, such as in a year. Amounts are in one unit, such as Wh/m².
type Incidence struct {
	AngleDeg, Beam []float64 // of each row whose beam is not 0: degrees from the normal, below 90; an amount
	Diffuse        float64   // an amount, from all sides
}

var (
	incidenceColumns = []string{"incidence_deg", "beam"}
	hourColumns      = []string{"datetime", "diffuse"}
)

// ReadIncidence reads a histogram of angles of incidence, incidence_deg,beam with each angle once, or a table of hours,
// datetime,incidence_deg,beam,diffuse with times that increase. Both may have diffuse, and amounts are in the plane of the
// glass, in one unit. At night, with the sun behind the glass (90 degrees or more, or an empty cell), the beam must be 0.
// Every error is a [*study.Refusal].
func ReadIncidence(name string, data []byte) (*Incidence, error) {
	s, err := open(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(incidenceColumns, hourColumns); err != nil {
		return nil, err
	}
	out, hourly := &Incidence{}, s.has("datetime")
	lines, before, total := map[float64]int{}, time.Time{}, 0.0
	for i := range s.rows {
		r := &s.rows[i]
		beam, diffuse := r.upTo("beam", 1e9), 0.0
		if s.has("diffuse") {
			diffuse = r.upTo("diffuse", 1e9)
		}
		if hourly {
			before = r.after(before)
		}
		angle := r.number("incidence_deg")
		switch below := angle.Valid() && angle >= 0 && angle < 90; {
		case angle.Valid() && !(angle >= 0 && angle <= 180):
			r.Refuse("incidence_deg", "give the angle between the sun and the normal of the glass", "%g is outside 0 to 180 degrees",
				float64(angle))
		case !angle.Valid() && beam > 0:
			r.Refuse("incidence_deg", "give the angle between the sun and the normal of the glass, or 0 as the beam at night",
				"the cell is empty, but there is light")
		case !below && beam > 0:
			r.Refuse("beam", "write 0: the sun is behind the glass", "there is light at an incidence of 90 degrees or more")
		case !hourly && angle.Valid() && lines[float64(angle)] > 0:
			r.Refuse("incidence_deg", "give each angle once, with all light at it", "%g stands in line %d already", float64(angle),
				lines[float64(angle)])
		case beam > 0:
			out.AngleDeg, out.Beam = append(out.AngleDeg, float64(angle)), append(out.Beam, beam)
		}
		if r.Err != nil {
			return nil, r.Err
		}
		if angle.Valid() {
			lines[float64(angle)] = r.Line
		}
		out.Diffuse += diffuse
		total += beam + diffuse
	}
	if total == 0 {
		return nil, &study.Refusal{File: name, Fault: "there is no light in the table",
			Try: "write " + strings.Join(incidenceColumns, ",") + ", a row for each angle, or " +
				"datetime,incidence_deg,beam,diffuse, a row for each hour"}
	}
	return out, nil
}

// has reports whether a table has a column.
func (s *Table) has(column string) bool { return slices.Contains(s.columns, column) }

// The ways in which a time may be written: ISO 8601, with a blank for its T.
var hourLayouts = []string{"2006-01-02T15:04", "2006-01-02T15:04:05", time.RFC3339, "2006-01-02 15:04", "2006-01-02 15:04:05"}

// after returns the time of a row, which is refused unless it is later than the one before.
func (r *Row) after(before time.Time) time.Time {
	text := r.needed("datetime")
	for _, layout := range hourLayouts {
		at, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		if !at.After(before) {
			r.Refuse("datetime", "sort the rows by time, each hour once", "%s is not later than in the row before", text)
		}
		return at
	}
	if text != "" {
		r.Refuse("datetime", "write it as 2031-06-21T12:00", "%q is no time", text)
	}
	return before
}

// Response is how a device answers to light: wavelengths in nm, increasing, and at each the share of photons that count,
// in any unit.
type Response struct{ NM, Share []float64 }

var responseColumns = []string{"wavelength_nm", "response"}

// ReadResponse reads wavelength_nm,response, with two rows or more. Every error is a [*study.Refusal].
func ReadResponse(name string, data []byte) (*Response, error) {
	s, err := open(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(responseColumns, nil); err != nil {
		return nil, err
	}
	out, most := &Response{}, 0.0
	for i := range s.rows {
		r := &s.rows[i]
		r.needed("wavelength_nm")
		r.needed("response")
		nm := float64(r.number("wavelength_nm"))
		if nm <= 0 || i > 0 && nm <= out.NM[i-1] {
			r.Refuse("wavelength_nm", "sort the rows by wavelength, in nm, each once", "%g is not larger than in the row before", nm)
		}
		out.NM, out.Share = append(out.NM, nm), append(out.Share, r.upTo("response", 1e6))
		if r.Err != nil {
			return nil, r.Err
		}
		most = max(most, out.Share[i])
	}
	refuse := func(fault, try string) error { return &study.Refusal{File: name, Fault: fault, Try: try} }
	try := "write " + strings.Join(responseColumns, ",") + ", one row a wavelength"
	switch {
	case len(out.NM) < 2:
		return nil, refuse("a response needs two wavelengths or more", try)
	case most == 0:
		return nil, refuse("the response is 0 at all wavelengths", try)
	case out.NM[len(out.NM)-1] < mostMicrometres:
		return nil, refuse(fmt.Sprintf("the wavelengths end at %g: they are no nm", out.NM[len(out.NM)-1]),
			"write the wavelengths in nm; 1 µm is 1000 nm")
	}
	return out, nil
}

// mostMicrometres is below the wavelengths in nm of any light, and above those in µm of the light that devices use.
const mostMicrometres = 50
