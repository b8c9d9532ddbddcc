package film

import "slices"

// Fitters keeps the fitters of joint fits that are made one after the other: one for each kind of glass, coating and
// instrument, and for each goroutine. Their tables are then made once, and not for each joint fit. The zero value is ready
// for use. Two goroutines must not use it at once.
type Fitters struct{ workers [][]keptFitter }

// keptFitter is a fitter with the first member that it was made for.
type keptFitter struct {
	*Fitter
	first *Member
}

// of returns the fitter of a worker for a member.
func (f *Fitters) of(worker int, m *Member) *Fitter {
	kept := f.workers[worker]
	k := slices.IndexFunc(kept, func(o keptFitter) bool { return m.hasTablesOf(o.first) })
	if k >= 0 {
		return kept[k].Fitter
	}
	made := NewFitter(m.Spot.Setup)
	f.workers[worker] = append(kept, keptFitter{made, m})
	return made
}

// hasTablesOf reports whether the spots of two members need the same tables. What is known beforehand does not enter
// them. Equal names of glasses stand for equal glasses, unless their indices show otherwise, and those of return
// spectra for equal ones.
func (m *Member) hasTablesOf(o *Member) bool {
	a, b := &m.Spot.Setup, &o.Spot.Setup
	return m.Glass == o.Glass && a.Glass.ThicknessMM == b.Glass.ThicknessMM && a.Glass.Back == b.Glass.Back &&
		a.Glass.Return.Name() == b.Glass.Return.Name() && a.Glass.Blank.equals(b.Glass.Blank) &&
		a.Coating == b.Coating && a.Texture == b.Texture &&
		a.Instrument.ConeDeg == b.Instrument.ConeDeg && a.Instrument.SlitNM == b.Instrument.SlitNM && m.hasGlassOf(o)
}

// hasGlassOf reports whether the glasses of m and o have the same index at the ends and in the middle of the
// first curve of m. Indices are functions, which cannot be compared as a whole.
func (m *Member) hasGlassOf(o *Member) bool {
	if len(m.Spot.Curves) == 0 || len(m.Spot.Curves[0].NM) == 0 {
		return true // the fit of the spot reports this
	}
	nm := m.Spot.Curves[0].NM
	for _, lambda := range []float64{nm[0], nm[len(nm)/2], nm[len(nm)-1]} {
		a, errA := m.Spot.Setup.Glass.Index.At(lambda)
		b, errB := o.Spot.Setup.Glass.Index.At(lambda)
		if (errA == nil) != (errB == nil) || errA == nil && a != b {
			return false
		}
	}
	return true
}
