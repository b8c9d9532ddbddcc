package desk

import (
	"fmt"
	"math"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// QuickSpot is what is fitted together: the curves of all files, or of one where each file is a spot.
type QuickSpot struct {
	Files   []string
	Spectra []study.Spectrum
	Notes   []string // what the reader decided by itself

	noAngle []bool // by spectrum: the file does not say its angle
	curves  []film.Curve
}

// Read reads the files, gives each curve its angle and polarisation, and returns the spots. ask may fill
// in angles that no file states; nil asks no question.
func (q *Quick) Read(r *ExportReader, ask func([]study.Spectrum)) ([]*QuickSpot, error) {
	var spots []*QuickSpot
	var all []study.Spectrum
	for _, name := range q.files {
		export, err := r.Read(name)
		if err != nil {
			return nil, err
		}
		if len(spots) == 0 || q.opt.Each {
			spots = append(spots, &QuickSpot{})
		}
		s := spots[len(spots)-1]
		s.Files = append(s.Files, name)
		for _, note := range export.Notes {
			s.Notes = append(s.Notes, name+": "+note)
		}
		for i := range export.Spectra {
			s.noAngle = append(s.noAngle, math.IsNaN(export.Spectra[i].AngleDeg))
		}
		all = append(all, export.Spectra...)
	}
	if len(q.opt.AnglesDeg) == 0 && ask != nil {
		ask(all)
	}
	curves, err := q.curves(all)
	if err != nil {
		return nil, err
	}
	for _, s := range spots {
		n := len(s.noAngle)
		s.Spectra, s.curves, all, curves = all[:n], curves[:n], all[n:], curves[n:]
	}
	return spots, q.checkReplicates(spots)
}

// curves gives each spectrum its angle and polarisation, and returns what is fitted.
func (q *Quick) curves(spectra []study.Spectrum) ([]film.Curve, error) {
	if n := len(q.opt.AnglesDeg); n > 1 && n != len(spectra) {
		return nil, usagef("give one angle for all curves, or one for each in the order of files and columns",
			"--angle has %d values, but the files have %d curves", n, len(spectra))
	}
	curves := make([]film.Curve, len(spectra))
	for i := range spectra {
		s := &spectra[i]
		if err := q.checkPane(s); err != nil {
			return nil, err
		}
		if err := q.setAngle(s, i); err != nil {
			return nil, err
		}
		if err := q.setPolarisation(s); err != nil {
			return nil, err
		}
		pol, native, err := evaluate.Beam(s.Polarisation)
		if err != nil {
			return nil, err
		}
		curves[i] = film.Curve{
			NM: s.NM, R: s.Values, AngleDeg: s.AngleDeg, Pol: pol, Native: native, NoiseSD: q.opt.NoiseSD,
			Through: s.Quantity == study.Transmittance,
		}
	}
	return curves, nil
}

// checkPane refuses transmittance of a pane that is not stated to let light through.
func (q *Quick) checkPane(s *study.Spectrum) error {
	back := q.opt.Back
	if s.Quantity != study.Transmittance || back == optics.Bare || back == optics.Coated {
		return nil
	}
	return &study.Refusal{
		File: s.File,
		Fault: fmt.Sprintf("column %d (%s) is transmittance, and behind a %v far face the light that should be measured is absorbed",
			s.Column, s.Heading, back),
		Try: "leave it out, or state the pane that it is of: --back bare, or coated, with its thickness --glass-mm",
	}
}

// setAngle sets the angle of the i-th curve.
func (q *Quick) setAngle(s *study.Spectrum, i int) error {
	stated := math.NaN()
	switch len(q.opt.AnglesDeg) {
	case 0:
	case 1:
		stated = q.opt.AnglesDeg[0]
	default:
		stated = q.opt.AnglesDeg[i]
	}
	deg, ok := study.AgreedAngle(s.AngleDeg, stated)
	switch {
	case !ok:
		return &study.Refusal{
			File: s.File,
			Fault: fmt.Sprintf("the export states %[3]g degrees for column %[1]d (%[2]q), but --angle states %[4]g",
				s.Column, s.Heading, s.AngleDeg, stated),
			Try: "leave --angle out, or correct it; if the header is wrong, state --declared ignore",
		}
	case math.IsNaN(deg):
		return &study.Refusal{
			File:  s.File,
			Fault: fmt.Sprintf("the angle of incidence of column %d (%q) is not stated", s.Column, s.Heading),
			Try:   "state it, for example --angle 8, or one angle for each curve",
		}
	}
	s.AngleDeg = deg
	return nil
}

// setPolarisation sets the polarisation of a curve: u if nothing states it.
func (q *Quick) setPolarisation(s *study.Spectrum) error {
	polarisation, ok := study.AgreedPolarisation(s.Polarisation, q.opt.Polarisation)
	if !ok {
		return &study.Refusal{
			File: s.File,
			Fault: fmt.Sprintf("column %d (%q) is stated to be in polarisation %s, but --polarisation states %s",
				s.Column, s.Heading, s.Polarisation, q.opt.Polarisation),
			Try: "leave --polarisation out, or correct it",
		}
	}
	if s.Polarisation = polarisation; s.Polarisation == "" {
		s.Polarisation = "u"
	}
	return nil
}

// checkReplicates refuses two curves of one spot at one angle and polarisation that are not stated to be
// repeated scans, and replicates that are stated where there are none.
func (q *Quick) checkReplicates(spots []*QuickSpot) error {
	found := false
	for _, s := range spots {
		i, k := firstReplicates(s.Spectra)
		if k < 0 {
			continue
		}
		found = true
		if a, b := &s.Spectra[i], &s.Spectra[k]; !q.opt.Replicates {
			return usagef(s.tryReplicates(i, k),
				"two curves of one spot are at %g degrees, polarisation %s: column %d of %s and column %d of %s",
				a.AngleDeg, a.Polarisation, a.Column, a.File, b.Column, b.File)
		}
	}
	if q.opt.Replicates && !found {
		return usagef("leave it out, or correct the angles",
			"--replicates is for repeated scans, and no two curves of a spot are at one angle and polarisation")
	}
	return nil
}

// tryReplicates returns what to try about two curves of a spot at one angle and polarisation.
func (s *QuickSpot) tryReplicates(i, k int) string {
	a, b := &s.Spectra[i], &s.Spectra[k]
	if a.File == b.File && a.Column == b.Column {
		return "give the file once"
	}
	try := "state --replicates if they are repeated scans of one spot"
	if a.File == b.File {
		try += "; if they are of different spots, name the columns of one spot with --columns"
	} else {
		try += "; if the files are of different spots, state --each instead of --one-spot"
	}
	if s.noAngle[i] || s.noAngle[k] {
		try += "; if their angles differ, give --angle one for each curve"
	}
	return try
}

// firstReplicates returns the first two spectra at one angle and polarisation; -1 twice if there
// are none.
func firstReplicates(spectra []study.Spectrum) (int, int) {
	type setting struct {
		angleDeg     float64
		polarisation string
		quantity     study.Quantity
	}
	first := map[setting]int{}
	for k := range spectra {
		at := setting{spectra[k].AngleDeg, spectra[k].Polarisation, spectra[k].Quantity}
		if i, known := first[at]; known {
			return i, k
		}
		first[at] = k
	}
	return -1, -1
}
