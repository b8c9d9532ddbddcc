package study

import "slices"

// Stated is a number that a laboratory may state. The zero value says that it does not.
type Stated struct {
	Value float64
	Is    bool
}

// Instrument is what is registered of one instrument. A setting that is changed makes
// another instrument of it, with another name.
type Instrument struct {
	Instrument   string // its name, unique
	Serial, Kind string
	ConeDeg      Num       // half-angle of the beam; null: counts as 0
	SlitNM       Num       // spectral width at half maximum; null: counts as 0
	JoinsNM      []float64 // wavelengths at which the next detector begins, rising
	UJoin        Num       // standard uncertainty of the step at each join, a fraction; null without joins

	// What the laboratory has measured of it, as standard uncertainties. Where nothing is stated, the default holds.
	UZero         Stated // of what stray and dark light add in a session, a fraction
	UPlace        Stated // of the factor of each curve of a placement, a ratio
	UTiltDeg      Stated // of the tilt of a placement, degrees
	UPlaceZero    Stated // of what light around the coupon adds in a placement, a fraction
	UWavelengthNM Stated // of all wavelengths of a session alike, nm

	// Geometries are those that it can read; none: nothing is stated of it.
	Geometries []string

	Note string
}

// Event is an event in the life of an instrument: lamp, detector or service.
type Event struct {
	Instrument, Date, Event, Note string
}

// Reference is one certificate of a reference, relative to which readings are taken. A
// reference that is certified again has another row under the same name.
type Reference struct {
	Reference, Issued, Expires string // dates; without Expires it does not expire
	Serial, Certificate        string
	UScale                     Num // standard uncertainty of the scale of readings against it, about 1; null: not stated
	Note                       string

	// Table is the path of the table of its values, as in the roster. The study stores the
	// values and not the path.
	Table  string
	Curves []ReferenceCurve // in the order of angle and polarisation; none: no values are certified
}

// ReferenceCurve holds the certified values of one angle and polarisation, with their
// standard uncertainties. The three slices have one length; values are fractions.
type ReferenceCurve struct {
	AngleDeg      float64
	Polarisation  string // s, p, u or n
	NM, Values, U []float64
}

// Standard is one certified value of a check standard: a piece of one certified
// quantity, at an angle and polarisation, by one certificate.
type Standard struct {
	Standard, Issued, Expires string
	AngleDeg                  float64
	Polarisation              string
	Serial, Certificate       string
	Quantity                  string  // R or T at WavelengthNM, solar_R or solar_T weighted as the certificate says, zero or line
	WavelengthNM              Num     // null for the others
	Value, U                  float64 // a fraction, of a line its wavelength in nm, and its standard uncertainty
	Note                      string
}

// Zero is the quantity of a light trap: what a reading of it shows above its certified value is the zero of the session.
const Zero = "zero"

// Line is the quantity of a line standard, such as an absorption line of a filter or a line of a lamp: the wavelength at
// which it is read shows the error of the wavelengths of the session.
const Line = "line"

// StandardQuantities returns what a check standard can be certified for.
func StandardQuantities() []string { return []string{"R", "T", "solar_R", "solar_T", Zero, Line} }

// UTrap is the standard uncertainty of the value of a light trap, a fraction, where nothing better is stated: common
// practice, no source.
const UTrap = 0.0001

// Session is a sitting at an instrument, which readings name.
type Session struct {
	Session, Instrument, Date, Operator string
	Reference                           string // empty if the readings need none
	HumidityPercent, TemperatureC       Num
	PoreWater, UPoreWater               Stated // share of the pores of films that water filled, and its standard uncertainty
	Condition                           string // of the coupons, as a note; that of each reading counts
	Note                                string
}

// StandardReading is one reading of a check standard in a session.
type StandardReading struct {
	Session, Standard string
	AngleDeg          float64
	Polarisation      string
	Replicate         int
	Value             float64 // a fraction; of a line the wavelength at which it was read, nm
}

// Expired reports whether a certificate had expired on day. expires is the day on which it
// expires, empty if it does not; both are ISO 8601 dates.
func Expired(expires, day string) bool { return expires != "" && day > expires }

// ReferenceOn returns the certificate of a reference that applies on day, an ISO 8601 date: the
// last one issued by then, which may have expired. It is nil if none was issued by then.
func (r *Roster) ReferenceOn(name, day string) *Reference {
	var last *Reference
	for i := range r.References {
		c := &r.References[i]
		if c.Reference == name && c.Issued <= day && (last == nil || c.Issued > last.Issued) {
			last = c
		}
	}
	return last
}

// IsCheck reports whether a standard shows that an instrument is off. A light trap and a line only state what is off.
func (r *Roster) IsCheck(standard string) bool {
	return !slices.ContainsFunc(r.Standards, func(c Standard) bool {
		return c.Standard == standard && (c.Quantity == Zero || c.Quantity == Line)
	})
}

// StandardOn returns what was certified of a check standard on day, as ReferenceOn
// does.
func (r *Roster) StandardOn(name string, angleDeg float64, polarisation, day string) *Standard {
	var last *Standard
	for i := range r.Standards {
		c := &r.Standards[i]
		if c.Standard == name && c.AngleDeg == angleDeg && c.Polarisation == polarisation && c.Issued <= day &&
			(last == nil || c.Issued > last.Issued) {
			last = c
		}
	}
	return last
}
