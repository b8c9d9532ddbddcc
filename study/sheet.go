package study

// SheetKind is what a line of a bench sheet is about.
type SheetKind string

// The kinds of lines of bench sheets.
const (
	SheetReference SheetKind = "reference" // read before everything else
	SheetCheck     SheetKind = "check"     // a check standard, or a line standard
	SheetTrap      SheetKind = "trap"      // the light trap
	SheetCoupon    SheetKind = "coupon"
)

// Sheet is a bench sheet: what is read in one sitting at a pull, in which order. A study keeps it as it was drawn.
type Sheet struct {
	Exposure   string
	Pull       int
	Number     int       // of the sheets of this pull, from 1
	Session    string    // of the sitting; empty: to be filled in by hand
	Condition  string    // of the coupons; empty: to be filled in by hand
	Protocol   string    // the version of the protocol of readings, as angle-reflectance@1
	AnglesDeg  []float64 // at which each spot is read, rising
	Replicates int       // scans of each spot at each angle
	Seed       int64     // of the order
	Blind      bool      // the page shows blind codes in place of those of coupons

	Lines []SheetLine // in the order in which they are read
}

// SheetLine is one thing to be read.
type SheetLine struct {
	Kind  SheetKind
	Code  string   // of the coupon, the standard or the reference; empty: one that is not registered
	Blind string   // in place of the code of a coupon on a blind sheet; else empty
	Spots []string // of a coupon, in the order in which they are read
}
