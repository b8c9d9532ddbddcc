package population

// Reason says why the data cannot tell something, or what must be said with it.
type Reason string

// The reasons why an estimate has no interval.
const (
	NoValue       Reason = "no-value"
	NoDose        Reason = "no-dose"
	OnePull       Reason = "one-pull"
	OneCoupon     Reason = "one-coupon"
	NoRepeat      Reason = "no-repeat"
	Constant      Reason = "constant"
	SessionIsDose Reason = "session-is-dose"
	Exact         Reason = "exact"
	OtherUnits    Reason = "other-units"
)

// The remarks on an estimate that has an interval.
const (
	TheseLots   Reason = "these-lots"   // fewer than three lots: nothing is said of other lots
	NoSpread    Reason = "no-spread"    // the variance between its coupons, or lots, was estimated as 0
	NoControl   Reason = "no-control"   // no control was read in its sessions, or they take no part
	EndedBefore Reason = "ended-before" // coupons ended before its last pull: the later values are those of survivors
)

// reasons are, of each reason, why and what to try.
var reasons = map[Reason][2]string{
	NoValue: {"there is no value of it", "take readings in and run `wane fit`, or ask for another quantity"},
	NoDose: {"the doses of its values are not known",
		"enrol a pull plan, or the doses that its exposure delivered, or ask for rates in days"},
	OnePull: {"all values of each coating are at one dose", "read the coupons at another pull"},
	OneCoupon: {"there is one coupon only, and coupons of one coating differ by more than their readings do",
		"expose two coupons or more, better six, or compare several coatings by their lots"},
	NoRepeat: {"no coupon was read at two doses", "read coupons at pull 0 and again after exposure"},
	Constant: {"its values never change, so that their scatter is not known",
		"look at whether the readings have enough digits, or ask for another quantity"},
	SessionIsDose: {"each dose was read in one session, and nothing that does not age was read in these sessions: what a " +
		"session is off looks like ageing",
		"read controls in each session and correct by them; differences between what was read in the same sessions can be told"},
	Exact: {"the values are explained without any scatter, so that no error can be estimated",
		"look at whether the readings have enough digits, or read more coupons"},
	OtherUnits: {"rates in different units of dose cannot be compared", "ask for rates in days"},
	TheseLots: {"there are fewer than three lots with repeats, so this says something of these lots only",
		"expose two coupons each of three lots or more"},
	NoSpread: {"its units differ by no more than their errors explain; the degrees of freedom are at most those of the units",
		""},
	NoControl:   {"no control was read in its sessions", "read controls with the exposed coupons at each pull"},
	EndedBefore: {"coupons ended before the last pull: the later values are those of the survivors", ""},
}

// Sentence says it in words, as what follows "because".
func (r Reason) Sentence() string { return reasons[r][0] }

// Try says what to do about it; empty: nothing.
func (r Reason) Try() string { return reasons[r][1] }

// hasValue reports whether there is an estimate all the same, without an interval.
func (r Reason) hasValue() bool { return r == OneCoupon || r == NoRepeat || r == SessionIsDose }
