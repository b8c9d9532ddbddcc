package study

// Role is the role of a coupon in the study.
type Role string

// The roles of coupons.
const (
	Exposed      Role = "exposed"
	Control      Role = "control"       // coated, kept in the dark
	Blank        Role = "blank"         // uncoated, kept in the dark
	BlankExposed Role = "blank-exposed" // uncoated, exposed
)

// Coated reports whether coupons of the role carry a coating.
func (r Role) Coated() bool { return r == Exposed || r == Control }

// Coupon is a piece of glass followed through the study.
type Coupon struct {
	Coupon                 string // its code, unique
	Role                   Role
	Supplier, Coating, Lot string // empty for blanks
	Glass                  string // a known name, or the name of a table in the study
	GlassMM                Num    // thickness, mm; null if it does not matter
	Back                   string // matched, blackened, bare, coated or laminated
	Exposure               string // of a control: the one it accompanies, empty for all
	WaterRepellent         bool   // its film is declared to keep water out of its pores
	Batch                  string // of its glass; empty: glass and supplier stand for it
	Leak                   Stated // rms of the share of light that a matched far face returns, or u of the ReturnSpectrum
	ReturnSpectrum         string // the name of that of a laminated far face in the study; empty: it has none
	BaselinePull           int    // with which its history begins: above 0 if it joined late
	Position               string // on the rack, in the lab's words
}

// GlassName returns the present name of a glass. A roster or a study of an earlier version may
// have the old name of borosilicate-crown. Every other name is returned as it is.
func GlassName(name string) string {
	if name == "n-bk7" {
		return "borosilicate-crown"
	}
	return name
}

// Exposure is one arm of the study.
type Exposure struct {
	Exposure string // its name, unique
	Protocol string
	Site     string
	DoseUnit string // days, hours, cycles or kWh/m2
	Start    string // ISO 8601 date

	// KeptProtocol is the version of the protocol, as damp-heat@1, that the study kept when the
	// exposure was enrolled; empty: Protocol is nothing but words.
	KeptProtocol string
}

// Pull is the planned moment at which coupons of an exposure are measured.
type Pull struct {
	Exposure string
	Pull     int // 0 is the baseline before exposure, but of coupons that joined late
	Dose     float64
	Date     string // ISO 8601

	KeptProtocol string // that of its exposure when the pull was enrolled, as in [Exposure]
}

// Glass is the table of the index of a glass, n + ik with k >= 0, that a roster named by its
// path. The three slices have one length.
type Glass struct {
	Name     string // the path as the roster wrote it
	NM, N, K []float64
}

// ReturnSpectrum is what comes back of the light that arrives at the laminated far face of a
// glass, as a table that a roster named by its path. The two slices have one length.
type ReturnSpectrum struct {
	Name       string    // the path as the roster wrote it
	NM, Return []float64 // the latter as fractions
}

// GlassBatch is what is known of a batch of glass.
type GlassBatch struct {
	Glass, Batch string // the glass as coupons name it, and a name of the batch, unique for it
	UIndex       Stated // standard uncertainty of its index against the formula or table of the glass
	Model        string // its index as evaluate.Formula reads it, in place of that of the glass; else words, for the record
}

// Roster is what enrol registers, all of it together.
type Roster struct {
	Exposures []Exposure
	Coupons   []Coupon
	Pulls     []Pull
	Glasses   []Glass
	Returns   []ReturnSpectrum
	Batches   []GlassBatch
	Lives     []CouponEvent
	Doses     []DoseReading

	Instruments []Instrument
	Events      []Event
	References  []Reference
	Standards   []Standard
	Sessions    []Session
	Checks      []StandardReading
}

// Place is the place of a curve in the study. It identifies a reading.
type Place struct {
	Coupon       string
	Pull         int
	Spot         string
	Condition    string // as_found, rinsed or cleaned; empty if not stated
	AngleDeg     float64
	Polarisation string // s, p, u or n
	Quantity     Quantity
	Replicate    int // 1, 2, ...
}

// Reading is one spectrum of the study: its place, how it was measured, and its values.
type Reading struct {
	Place
	Session, Operator, Geometry string
	OrientationDeg              Num
	HalfAngleDeg                Stated // within which a mixed geometry collects, from the mirror direction
	Mounting                    int    // the coupon was set down anew for the second, third, ...; 0 and 1: the first
	Position                    string // of the spot on the coupon, such as edge or along the brush, in the lab's words

	Export  string // SHA-256 of the export, in hexadecimal
	Column  int    // of the values in the export, counting the wavelength column as 1
	Heading string

	NM, Values []float64 // as in [Spectrum]

	// FirstLine and LastLine are the first and the last line of the export, from 1, with its
	// numbers; 0: not known.
	FirstLine, LastLine int

	// Reference and Issued name the certificate whose table made its values absolute, if they
	// were read relative to that reference; empty otherwise.
	Reference, Issued string

	Traits   Traits
	Concerns []Concern // of guards, at the time of its intake
}

// Export is a file that an instrument wrote, kept byte for byte.
type Export struct {
	Name   string // the file's name as given
	SHA256 [32]byte
	Data   []byte

	// Packed is Data in compressed form, and Size the length of Data, once the store has
	// packed it. Data may then be nil.
	Packed []byte
	Size   int64
}

// Unit names the readings of one fit: those of one spot of a coupon at a pull, in one
// condition.
type Unit struct {
	Coupon    string
	Pull      int
	Spot      string
	Condition string
}
