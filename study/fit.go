package study

// Fit is the outcome of evaluating one unit: one wide row of the study file.
// Changes against the baseline and corrections by controls are not in it; they are
// made from several fits when results are listed.
type Fit struct {
	Unit
	Session string

	// Sessions are those of its readings, where they come from several; filled in when
	// results are listed, not stored.
	Sessions []string

	// Position is where its spot lies on the coupon, as the readings state it; filled in when results are listed, not
	// stored.
	Position string

	// Following is what the uncertainty of a quantity that is followed is made of, where that is not kept effect by effect;
	// filled in by [Followed.Fits], not stored.
	Following *Errors

	// Digest tells whether the fit is stale: it is of everything that went in,
	// readings, roster and model version.
	Digest [32]byte

	// AnglesDeg are the angles of the readings that it is of, rising, each once. None: they
	// are not known, or nothing was fitted.
	AnglesDeg []float64

	// Result holds what is known from this unit alone; the study keys, changes
	// and corrections in it are not filled.
	Result Result

	// Errors holds what the uncertainties are made of, effect by effect, for [Covariance].
	Errors Errors

	// SeenT is the part of solar_T from SeenLoNM to SeenHiNM, the wavelengths that
	// the readings cover: the integral of irradiance times transmittance there
	// over the irradiance of the whole band.
	SeenT, SeenLoNM, SeenHiNM Num
}

// NewFit returns a fit of a unit in which nothing applies yet.
func NewFit(u Unit) *Fit {
	f := &Fit{Unit: u, Result: NewResult()}
	f.SeenT, f.SeenLoNM, f.SeenHiNM = Null(), Null(), Null()
	return f
}

// Route is how a study corrects changes. A study has exactly one.
type Route string

// The routes.
const (
	RouteNone     Route = "none"
	RouteControls Route = "controls" // minus the mean change of the controls
	RouteSession  Route = "session"  // session effects estimated jointly, applied in reflectance
)

// Settings are chosen when a study is made and never change.
type Settings struct {
	Correction Route
	Mixing     string // the mixing rule of its coatings
	OverBlank  bool   // readings are evaluated over those of the dark blanks of their session
	TwoPeople  bool   // nobody judges, amends or moves what they took in or enrolled themselves
	Created    string // RFC 3339, UTC
}

// Entry is a line of the study's log.
type Entry struct {
	Number  int64  // from 1, without gaps
	At      string // RFC 3339, UTC
	Who     string
	Verb    string // the command: enrol, intake, fit ...
	Why     string // a person's reason, may be empty
	Summary string // what was done, in words

	Software string // the program that did it, empty if it did not say

	Hash [32]byte // of this line and, through the line before, of all that went before
}
