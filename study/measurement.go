package study

import "math"

// Measurand is what an instrument other than the spectrometer reads of a coupon. Each
// has one unit, in which alone it is taken in.
type Measurand struct {
	Name, Unit  string
	Least, Most float64 // what a value can be; Most is +Inf where nothing bounds it
}

// MeasuredThickness is the measurand that fits are compared with.
const MeasuredThickness = "thickness"

// Measurands returns all that a measurement can be of.
func Measurands() []Measurand {
	return []Measurand{
		{"haze", "percent", 0, 100},
		{"gloss", "GU", 0, math.Inf(1)}, // gloss units
		{"contact_angle", "degrees", 0, 180},
		{"mass", "g", 0, math.Inf(1)},
		{MeasuredThickness, "nm", 0, math.Inf(1)},
	}
}

// Measurement is one number that was read of a coupon by other means than its
// spectra.
type Measurement struct {
	Coupon    string
	Pull      int
	Spot      string // empty: the coupon as a whole
	Condition string // as_found, rinsed or cleaned; empty if not stated
	Quantity  string // the name of one of Measurands
	Value, U  Num    // in its unit; U is the standard uncertainty, null if not known
	Method    string // the instrument or the way, in the lab's words
	Date      string // ISO 8601
	Replicate int    // 1, 2, ...
	Operator  string
	Note      string

	Sheet   string // SHA-256 of the table it was taken from, in hexadecimal
	Line    int    // of the table, from 1
	Picture string // SHA-256 of the picture that belongs to it, or empty
}

// Unit returns the unit of the value; empty if Quantity is none of Measurands.
func (m *Measurement) Unit() string {
	for _, q := range Measurands() {
		if q.Name == m.Quantity {
			return q.Unit
		}
	}
	return ""
}

// Minus returns m less n, where nothing that bears on the one bears on the other: the
// uncertainties add in squares. Source: JCGM 100:2008, 5.1.2. What is null in either is
// null.
func (m Measure) Minus(n Measure) Measure {
	return Measure{m.Value - n.Value, Num(math.Hypot(float64(m.U), float64(n.U)))}
}
