package drawn

import (
	"wane/study"
	"wane/study/ageing"
	"wane/study/report"
	"wane/study/shown"
)

// Changes draws the change of solar transmittance of groups against the dose. curves and groups are those of
// desk.ChangeCurves, route that of the study.
func Changes(by ageing.By, route study.Route, curves []ageing.Curve, groups []ageing.Group) *report.Changes {
	f := report.NewChanges(string(by), route)
	f.Series = Series(curves)
	spots, lossless := 0, 0
	for i := range groups {
		spots, lossless = spots+groups[i].Spots, lossless+groups[i].Clear
	}
	if said := LosslessCaption(lossless, spots); said != "" {
		f.Caption = append(f.Caption, said)
	}
	if said := shown.DistrustedWords(groups); said != "" {
		f.Caption = append(f.Caption, said+".")
	}
	return f
}

// LosslessCaption is the line of a figure of which all, or some, spots have no transmittance; empty if each has.
func LosslessCaption(lossless, spots int) string {
	switch {
	case lossless == 0:
		return ""
	case lossless == 1 && spots == 1:
		return "The film is taken as lossless: reflectance does not show what it absorbs."
	case lossless == spots:
		return "Films are taken as lossless: reflectance does not show what they absorb."
	}
	return "Films without a reading of transmittance are taken as lossless: reflectance does not show what they absorb."
}
