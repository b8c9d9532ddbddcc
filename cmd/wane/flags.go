package main

import (
	"strings"

	"wane/fit/film"
	"wane/study"
)

// flagMeanings says in a sentence what each flag of a result means; the part
// after a colon is the parameter concerned.
var flagMeanings = []struct{ flag, meaning string }{
	{film.FlagNotConverged, "the fit did not settle; only the measured curves can be trusted"},
	{film.FlagPoorFit, "the model does not describe the curves within their noise; look at the residuals"},
	{film.FlagNotSeparable, "these curves do not determine it, so its value means little"},
	{film.FlagAtBound, "the best value is a limit of the fit: the truth may lie beyond it, so look at the glass, the coating and the unit"},
	{film.FlagPinned, "held at this value as you asked, so it has no uncertainty"},
	{film.FlagFacets, "textured glass: only facets near the mean plane were seen"},
	{film.FlagUnlikely, "far beyond what is known of it beforehand: check --back, --glass, the unit and the reference"},
	{film.FlagMasked, "wavelengths were left out as you asked"},
	{film.FlagLoss, "points far off count for less, as you asked"},
	{film.FlagSpikes, "points far off their neighbours were left out"},
	{film.FlagCorrelated, "the residuals hang together along the wavelength, so the points count for less than half: the model or the instrument bends the curves a little"},
	{film.FlagBackAsFront, "both faces carry the film and are taken to be alike"},
	{study.FlagNotEvaluated, "the readings could not be fitted at all"},
	{study.FlagGeometry, "a reading was taken in this geometry, and only specular readings are evaluated so far"},
	{study.FlagHeld, "guards hold readings of this spot, and they do not enter: wane review"},
	{study.FlagAside, "readings of this spot were set aside, and do not enter"},
	{study.FlagReviewed, "a reading behind it was held or reviewed since: run wane fit"},
	{study.FlagOverBlank, "the readings were taken over those of the dark blanks of their session"},
	{study.FlagSessions, "the readings of this spot come from more than one session"},
	{study.FlagSessionNotTrusted, "the checks speak against its session, or nobody registered that: wane check says why"},
	{study.FlagBaselineNotTrusted, "its change is from a pull 0 that was read in a session that the checks speak against, or that nobody registered: wane check says why"},
	{study.FlagNoSession, "no session corrects it: its readings name none, or could not be fitted with the others of their session"},
	{study.FlagSessionLimits, "its session does not support this kind of result; `wane fit` said why"},
	{study.FlagNotJoint, "a joint fit of its pulls had to leave it out, so that it stands by itself"},
	{study.FlagNoBaseline, "no usable fit of this spot at pull 0, so no change"},
	{study.FlagNoControl, "no control of this coating at this pull that may correct it, so no corrected change"},
	{study.FlagAngles, "read at fewer or other angles than this spot at pull 0, on which what is found of the film depends"},
	{study.FlagGrew, "thickness, solid or solar value lies above pull 0 by more than 3 of its standard uncertainties: residue or soiling, exchanged coupons, or another glass; the solar value alone also rises where a thick film thins or pores open"},
	{study.FlagHumid, "read at more than 60 % relative humidity, or more than 10 points from pull 0: water in the pores may be in its change; declare a film that repels water in the roster (water_repellent)"},
	{study.FlagConditions, "compared with a clean reading though it is not one itself, or the other way round: soiling is in the change"},
}

func flagMeaning(flag string) string {
	for _, m := range flagMeanings {
		if flag == m.flag || strings.HasSuffix(m.flag, ":") && strings.HasPrefix(flag, m.flag) {
			return m.meaning
		}
	}
	return "not documented"
}
