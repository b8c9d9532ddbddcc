package shape

import "wane/study"

// Flags returns what the flags of paths, fits and lives mean.
func Flags() []study.Term {
	return []study.Term{
		{Word: FlagOneCoupon, Meaning: "the group has one coupon, which says nothing of others: there is no interval",
			Remedy: "expose two coupons or more; --by coupon follows this one"},
		{Word: FlagTheseLots, Meaning: "fewer than three lots: the interval says nothing of other lots",
			Remedy: "expose two coupons each of three lots or more"},
		{Word: FlagFewer, Meaning: "coupons without a value at a pull of the mean path are not in it",
			Remedy: "see them in wane results; the rate of the mixed model counts all"},
		{Word: FlagDosesDiffer, Meaning: "at one pull the doses of coupons differ; the path is drawn at their mean",
			Limit:  "a twentieth of the mean",
			Remedy: "take --by coupon"},
		{Word: FlagNoErrors, Meaning: "the uncertainty of a value is not stated; all values are taken to scatter alike",
			Remedy: "state u in the table of measurements"},
		{Word: FlagSessionIsDose, Meaning: "what sessions are off is not known, and looks like ageing: a rate or a shape has " +
			"no interval, and a life does not count it",
			Remedy: "read controls in each session and correct by them"},
		{Word: FlagConstant, Meaning: "values never change, so that their scatter is not known: there is no interval",
			Remedy: "look at whether the readings have enough digits"},
		{Word: FlagScatter, Meaning: "the path lies farther from the shape than its errors explain (for a group: and the scatter of its " +
			"coupons); the interval of a coupon is longer",
			Limit:  "chi-square above its 95 % quantile; not tested where errors are not known",
			Remedy: "try --shape all"},
		{Word: FlagNotTested, Meaning: "so few pulls cannot tell the shape from others: it has no AICc",
			Remedy: "read more pulls"},
		{Word: FlagAtEnd, Meaning: "a parameter ran to the end of what is tried: the path does not show this shape",
			Limit:  "scale from a twentieth of the first dose to 50 times the last; exponent 0.1 to 10; common practice, no source",
			Remedy: "take another shape"},
		{Word: FlagOpen, Meaning: "the interval has no end on one side, or its profile cannot be followed",
			Remedy: "read more pulls"},
		{Word: FlagFewPoints, Meaning: "the slope by ranks of fewer than five points has no interval of 95 %",
			Remedy: "read more pulls"},
		{Word: FlagMedianOfCoupons, Meaning: "the slope by ranks of a group is the median of those of its coupons: it has no interval",
			Remedy: "take the rate of the mixed model"},
		{Word: FlagNotReached, Meaning: "no coupon has surely reached the limit: there is a lower bound at most",
			Limit:  "1.645 u beyond the limit",
			Remedy: "go on exposing"},
		{Word: FlagBeyond, Meaning: "more than twice the largest dose: not stated",
			Remedy: "go on exposing, or --extrapolate"},
		{Word: FlagExtrapolated, Meaning: "beyond the largest dose: by the law alone",
			Remedy: "do not plan by it"},
		{Word: FlagLost, Meaning: "coupons were lost before they reached the limit; they count as having lasted until then",
			Remedy: "where they were lost because they aged, lives are shorter than stated"},
		{Word: FlagBackAgain, Meaning: "coupons were surely before the limit again later; the first time that they reached it counts",
			Remedy: "see their rows, and what was read in these sessions"},
	}
}
