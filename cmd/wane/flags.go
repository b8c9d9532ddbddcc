package main

import (
	"strings"

	"wane/fit/film"
)

// flagMeanings says in a sentence what each flag of a result means; the part
// after a colon is the parameter concerned.
var flagMeanings = []struct{ flag, meaning string }{
	{film.FlagNotConverged, "the fit did not settle; only the measured curves can be trusted"},
	{film.FlagPoorFit, "the model does not describe the curves within their noise; look at the residuals"},
	{film.FlagNotSeparable, "these curves do not determine it, so its value means little"},
	{film.FlagAtBound, "the best value is the limit of what is possible, so its interval is one-sided"},
	{film.FlagPinned, "held at this value as you asked, so it has no uncertainty"},
	{film.FlagFacets, "textured glass: only facets near the mean plane were seen"},
	{film.FlagBackAsFront, "both faces carry the film and are taken to be alike"},
}

func flagMeaning(flag string) string {
	for _, m := range flagMeanings {
		if flag == m.flag || strings.HasSuffix(m.flag, ":") && strings.HasPrefix(flag, m.flag) {
			return m.meaning
		}
	}
	return "not documented"
}
