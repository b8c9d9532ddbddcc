package study

import "math"

// Measurand is a quantity of a coupon that other instruments than the spectrometer read.
// Each has one unit, and values in other units are refused.
type Measurand struct {
	Name, Unit  string
	Least, Most float64 // range of possible values; Most is +Inf if there is no limit
}

// MeasuredThickness is the measurand that fits are compared with.
const MeasuredThickness = "thickness"

// Measurands returns all measurands.
func Measurands() []Measurand {
	return []Measurand{
		{"haze", "percent", 0, 100},
		{"gloss", "GU", 0, math.Inf(1)}, // gloss units
		{"contact_angle", "degrees", 0, 180},
		{"mass", "g", 0, math.Inf(1)},
		{MeasuredThickness, "nm", 0, math.Inf(1)},
	}
}

// Measurement is one value of a measurand of a coupon.
type Measurement struct {
	Coupon    string
	Pull      int
	Spot      string // empty: the whole coupon
	Condition string // as_found, rinsed or cleaned; empty if not stated
	Quantity  string // the name of one of Measurands
	Value, U  Num    // in its unit; U is the standard uncertainty, null if not known
	Method    string // the instrument or the method, in the lab's words
	Date      string // ISO 8601
	Replicate int    // 1, 2, ...
	Operator  string
	Note      string

	Sheet   string // SHA-256 of the table from which it was read, in hexadecimal
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

// Minus returns m less n, for independent errors:
//
//	u² = u(m)² + u(n)²
//
// Source: JCGM 100:2008, 5.1.2. A value or an uncertainty that is null in m or n is null in
// the result.
func (m Measure) Minus(n Measure) Measure {
	return Measure{m.Value - n.Value, Num(math.Hypot(float64(m.U), float64(n.U)))}
}
