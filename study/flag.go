package study

// The flags of units whose readings could not be fitted, or do not count, or are not taken as
// they are.
const (
	FlagNotEvaluated = "not-evaluated" // the readings of a unit could not be fitted at all
	FlagHeld         = "held"          // a guard holds readings of this spot
	FlagAside        = "set-aside"     // readings of this spot are set aside
	FlagReviewed     = "reviewed"      // a reading behind the fit was held or reviewed since
	FlagOverBlank    = "over-blank"    // the readings are taken over those of the session's dark blanks

	// FlagGeometry marks a unit that is not evaluated because of the geometry of a reading,
	// whose word follows the colon.
	FlagGeometry = "geometry:"
)

// The flags of sessions.
const (
	FlagSessions = "sessions-mixed" // the readings of a unit come from more than one session

	// FlagSessionNotTrusted marks a row whose readings were taken in a session that the checks
	// speak against; FlagBaselineNotTrusted one whose change is from a pull 0 that was read in
	// such a session.
	FlagSessionNotTrusted  = "session-not-trusted"
	FlagBaselineNotTrusted = "baseline-not-trusted"

	// FlagNoSession marks a unit that no session corrects: its readings name none, or it
	// could not be fitted with the others of its session. Its values are those of a fit
	// by itself.
	FlagNoSession = "no-session"
	// FlagSessionLimits marks a unit of a session that does not support a kind of result,
	// which follows the colon: solar, thickness or bare.
	FlagSessionLimits = "session-limits:"
)

// The flags of rows that compare pulls.
const (
	// FlagNotJoint marks a row that a joint fit of the pulls of its spot had to leave out: its
	// values are those of the fit by itself.
	FlagNotJoint   = "not-joint"
	FlagNoBaseline = "no-baseline" // no usable fit of this spot at pull 0
	FlagNoControl  = "no-control"  // no control of this coating at this pull that may correct it
	// FlagConditions marks a row that was compared with a reading in a condition that
	// is clean where its own is not, or the other way round: soiling is in the change.
	FlagConditions = "conditions-mixed"
	// FlagAngles marks a row that was read at fewer or other angles than its pull 0: what is
	// called the film then depends on the angles too, wherever it is not uniform.
	FlagAngles = "angles-differ"
	// FlagGrew marks a row of a coated coupon that has more of something than at pull 0. Residue
	// and soiling look so, as do coupons that were exchanged and glass that is another. The solar
	// value alone also rises by ageing: where a film that is thicker than its optimum thins, and
	// where the index of a film above that optimum falls because its pores open.
	FlagGrew = "grew"
	// FlagHumid marks a row of a coated coupon that was read in damp air, or in air much damper
	// or drier than at pull 0, unless its film is declared to keep water out of its pores.
	FlagHumid = "humid"
)
