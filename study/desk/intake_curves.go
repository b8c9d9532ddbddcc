package desk

import (
	"wane/study"
	"wane/study/intake"
	"wane/study/intake/source"
)

// CurvesIn returns the curves of an export without their points, read with the first answers that make it readable, so
// that a person can say where each belongs. What leaves every answer open gives its refusal, a [*study.Refusal].
func CurvesIn(path string) (curves []study.Spectrum, err error) {
	defer study.Catch(path, &err)
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	x, _, err := intake.ReadTrying(path, data)
	if err != nil {
		return nil, err
	}
	for _, s := range x.Spectra {
		s.NM, s.Values = nil, nil
		curves = append(curves, s)
	}
	return curves, nil
}
