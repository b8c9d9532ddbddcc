package study

import (
	"fmt"
	"slices"
)

// The flags of units whose readings could not be fitted, or do not count, or are not taken as
// they are.
const (
	FlagNotEvaluated = "not-evaluated" // the readings of a unit could not be fitted at all
	FlagHeld         = "held"          // a guard holds readings of this spot
	FlagAside        = "set-aside"     // readings of this spot are set aside
	FlagReviewed     = "reviewed"      // a reading behind the fit was held or reviewed since
	FlagDried        = "dried"         // water in the pores is declared; the values are those of the film with dry pores
	FlagOverBlank    = "over-blank"    // the readings are taken over those of the session's dark blanks

	// FlagGeometry marks a unit that is not evaluated because of the geometry of a reading,
	// whose word follows the colon.
	FlagGeometry = "geometry:"
)

// The flags of sessions.
const (
	FlagSessions = "sessions-mixed" // the readings of a unit come from more than one session

	// FlagSessionNotTrusted marks a row whose readings were taken in a session that the checks
	// speak against; FlagBaselineNotTrusted one whose change is from a baseline that was read in
	// such a session.
	FlagSessionNotTrusted  = "session-not-trusted"
	FlagBaselineNotTrusted = "baseline-not-trusted"

	// FlagNoSession marks a unit that no session corrects: its readings name none, or it
	// could not be fitted with the others of its session. Its values are those of a fit
	// by itself.
	FlagNoSession = "no-session"
	// FlagNoAnchor marks a dark blank that may not determine what is wrong with its session: it has
	// changed since its baseline, or its curves are not those of bare glass.
	FlagNoAnchor = "no-anchor"
	// FlagSessionLimits marks a unit of a session that does not support a kind of result,
	// which follows the colon: solar, thickness or bare.
	FlagSessionLimits = "session-limits:"
)

// The flags of rows that compare pulls.
const (
	// FlagNotJoint marks a row that a joint fit of the pulls of its spot had to leave out: its
	// values are those of the fit by itself.
	FlagNotJoint   = "not-joint"
	FlagNoBaseline = "no-baseline" // no usable fit of this spot at its baseline
	FlagNoControl  = "no-control"  // no control of this coating that may correct it at this pull
	// FlagConditions marks a row that was compared with a reading in a condition that
	// is clean where its own is not, or the other way round: soiling is in the change.
	FlagConditions = "conditions-mixed"
	// FlagAngles marks a row that was read at fewer or other angles than its baseline: what is
	// called the film then depends on the angles too, wherever it is not uniform.
	FlagAngles = "angles-differ"
	// FlagBridged marks a row whose change is across two instruments, less the offset between them; FlagInstruments one
	// across instruments that no session bridges.
	FlagBridged     = "bridged"
	FlagInstruments = "instruments-differ"
	// FlagGrew marks a row of a coated coupon that has more of something than at its baseline. Residue
	// and soiling look so, as do coupons that were exchanged and glass that is another. The solar
	// value alone also rises by ageing: where a film that is thicker than its optimum thins, and
	// where the index of a film above that optimum falls because its pores open.
	FlagGrew = "grew"
	// FlagHumid marks a row of a coated coupon that was read in damp air, or in air much damper
	// or drier than at its baseline, unless its film is declared to keep water out of its pores.
	FlagHumid = "humid"
)

// The flags of doses.
const (
	// FlagDosePlanned marks a row of an exposed coupon whose dose is by the plan, or a part of it at least. [Filter] counts
	// it only where it is named: a study without events has it in every row.
	FlagDosePlanned = "dose-planned"
	// FlagDoseShort marks a row whose dose is summed from rows of doses that do not reach over all of the time outside.
	FlagDoseShort = "dose-short"
	// FlagTransferred marks a row of a coupon that was in more than one exposure by then.
	FlagTransferred = "transferred"
)

// GrewSigmas is how many standard uncertainties of the difference the thickness, the material
// left or the solar value lies above the baseline, for [FlagGrew]. Common practice, no source.
const GrewSigmas = 3

// Limits of [FlagHumid]. Water condenses in a pore up to the Kelvin radius, by Thomson's equation
//
//	r = 2 γ V / (R T ln(1 / h))
//
// with the surface tension γ and the molar volume V of water, and h the relative humidity:
// 1.15 nm at 40 %, 2.06 nm at 60 % and 24 °C. In between the mesopores of porous silica
// fill; 10, 30 and 100 % of the pores filled cost 0.06, 0.23 and 1.13 pp of solar
// transmittance (118 nm, porosity 0.36, on soda-lime glass). Source of the equation: W. Thomson,
// Philosophical Magazine 42 (1871) 448-452, from memory. Where the limits lie: common
// practice, no source.
const (
	HumidPercent = 60.0 // relative humidity, percent
	HumidPoints  = 10.0 // from that at the baseline, percentage points
)

// Flags returns the flags of rows that come from readings, sessions and the comparison of pulls,
// in their order. A fit adds its own, which the package that fits explains.
func Flags() []Term {
	return slices.Concat(readingFlags(), sessionFlags(), pullFlags(), doseFlags())
}

// readingFlags explains the flags of readings that do not count, or not as they are.
func readingFlags() []Term {
	return []Term{
		{FlagNotEvaluated, "", "the readings of this spot could not be fitted, or none of them counts", "",
			"read what wane fit says of the spot, and judge its held readings with wane review"},
		{FlagGeometry, "NAME", "a reading was taken in this geometry and cannot be evaluated, or not together with the others",
			"total_excluded; one that the instrument is not registered for; total beside specular readings; mixed within less " +
				"than the cone of the beam",
			"measure the specular or the total reflectance, or set the reading aside with wane review --aside"},
		{FlagDried, "", "water in the pores is declared; solar values, gain, material left and porosity are those of " +
			"the film with dry pores, thickness and film index those of the film as it was read", "",
			"measure in dry air, which needs no declaration"},
		{FlagHeld, "", "a guard holds readings of this spot; a held reading enters no result", "",
			"judge the held readings with wane review"},
		{FlagAside, "", "a person set readings of this spot aside; these readings enter no result", "",
			"nothing, if that was right; wane review --release takes a reading back"},
		{FlagReviewed, "", "a reading behind this row was held or reviewed after the fit, so the row is out of date", "",
			"run wane fit"},
		{FlagOverBlank, "", "the readings were divided by those of the dark blanks of their session", "",
			"nothing: the study was made with --over-blank"},
	}
}

// sessionFlags explains the flags of sessions.
func sessionFlags() []Term {
	return []Term{
		{FlagSessions, "", "the readings of this spot come from more than one session", "",
			"measure all angles of a spot in one session"},
		{FlagSessionNotTrusted, "", "the checks speak against the session of this row, or the session is not enrolled",
			"the verdict of wane check when results are listed",
			"read what wane check says of the session, and measure again if the instrument was off"},
		{FlagBaselineNotTrusted, "",
			"the change of this row is from a baseline whose session is not trusted, or is not enrolled",
			"the verdict of wane check when results are listed", "read what wane check says of the session of the baseline"},
		{FlagNoSession, "", "the study corrects by sessions, and no session corrects this spot: its readings name " +
			"none, or could not be fitted with the others of their session", "",
			"name the session of all readings, and measure a dark blank or controls in it"},
		{FlagNoAnchor, "", "this dark blank takes no part in the fit of its session: it has changed in the dark, as leached " +
			"or soiled glass has, or its curves are not those of bare glass",
			"brightness more than 3 standard uncertainties of the difference off its baseline, or the flag misfit of a fit as " +
				"bare glass",
			"clean the blank and measure it again, or take another one; read a check standard in the session, which says " +
				"whether the blank or the instrument has changed"},
		{FlagSessionLimits, "NAME",
			"the session of this row does not support this kind of result: solar, thickness or bare", "",
			"do not use this result of the session; wane fit says why"},
	}
}

// pullFlags explains the flags of rows that compare pulls.
func pullFlags() []Term {
	return []Term{
		{FlagNotJoint, "", "the joint fit of all pulls (--joint) could not take this pull in; its values are those of " +
			"the fit by itself", "", "use the row as one without --joint, or look at the curves of this pull"},
		{FlagNoBaseline, "", "there is no usable fit of this spot at its baseline, so there is no change",
			"the baseline is pull 0, or the baseline_pull of a coupon that joined late",
			"take in the readings of that pull, or judge those that are held, and run wane fit"},
		{FlagNoControl, "",
			"no control of this coating can correct the row: there is no corrected change, or by the route session it is " +
				"the change by the joint fits alone", "",
			"measure the controls of the coating at each pull in the sessions of its coupons, in the same condition or " +
				"cleaned"},
		{FlagConditions, "",
			"one of the two compared readings is clean and the other is not, so that soiling is in the change",
			"condition cleaned, or not stated, against as_found or rinsed", "compare readings in the same condition"},
		{FlagAngles, "",
			"the spot was read at fewer or other angles than at its baseline; the film that is found depends on the angles",
			"compared for fits made since version 6 of the study file", "measure a spot at the same angles at every pull"},
		{FlagBridged, "", "the spot was read on another instrument than at its baseline, and the offset between the two is taken off " +
			"the change; the offset is the mean over the spots that were read on both at one pull", "",
			"nothing; the uncertainty of the offset is in that of the change, less what both share"},
		{FlagInstruments, "", "the spot was read on another instrument than at its baseline, and nothing says what lies between the two",
			"instruments of the sessions, as enrolled", "read some spare coupons on both instruments at one pull, with replicates of " +
				"their own in the map; no controls, which then correct nothing at that pull"},
		{FlagGrew, "", "the thickness, the material left or the solar value is larger than at its baseline; residue, soiling, " +
			"exchanged coupons and another glass look so, and the solar value alone also rises where a thick film thins or " +
			"pores open",
			fmt.Sprintf("more than %d standard uncertainties of the difference above its baseline", GrewSigmas),
			"check the label, the glass and the cleanliness of the coupon, and measure again"},
		{FlagHumid, "", "the coated coupon was read in damp air, or in air much damper or drier than at its baseline; water in " +
			"the pores may be in its change",
			fmt.Sprintf("relative humidity above %g %%, or more than %g percentage points from that of the baseline, as "+
				"enrolled for the session", HumidPercent, HumidPoints),
			"measure in dry air; declare a film that repels water with water_repellent in the roster"},
	}
}

// doseFlags explains the flags of doses.
func doseFlags() []Term {
	return []Term{
		{FlagDosePlanned, "", "the dose is the planned one, or a part of it is: nothing says what the coupon received",
			"no start, stop or transfer of the coupon and no row of doses of its exposure; or hours, cycles or kWh/m2 " +
				"without rows. --flagged counts it only as --flagged=dose-planned, and tables count the rows below them",
			"enrol the events of the coupon, or the doses of its exposure (wane help events)"},
		{FlagDoseShort, "", "the dose is summed from rows that do not reach over all of the time outside, so it is too small",
			"the last row is before the last day, or there is no row within a month of the first day",
			"enrol the rows that are missing: exposure,date,value,unit"},
		{FlagTransferred, "", "the coupon was in more than one exposure by then; its dose adds those of the same unit, and its " +
			"change is that of all", "", "nothing; compare it with coupons that went the same way"},
	}
}
