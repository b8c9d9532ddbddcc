package film

import (
	"math"
	"strings"
)

// linear returns the budget where some reading is of transmittance, whose fits take too long to be repeated by the
// thousand: each contribution is the error that one standard uncertainty of its input causes, to the first order. A
// contribution to the change counts what both pulls share once, with its sign.
func (l *budgetTask) linear() ([]BudgetRow, error) {
	if l.uWater() > 0 {
		return nil, &InputError{"budget", "what water in the pores does is not computed where transmittance was read",
			"leave the pore water out, or ask for the budget of the reflectances alone"}
	}
	probe, err := l.Mean()
	if err != nil {
		return nil, err
	}
	all := make([]*Errors, len(l.readings))
	for i, p := range l.readings {
		if all[i], err = p.v.errors([]Measurand{{Name: Thickness}, {Mean: probe}}, func(Owner) bool { return true }); err != nil {
			return nil, err
		}
	}
	rows := make([]BudgetRow, 0, len(l.terms)+1)
	sum := BudgetRow{Term: total, Size: math.NaN(), ChangePP: math.NaN()}
	if len(all) > 1 {
		sum.ChangePP = 0
	}
	for i := range l.terms {
		t := &l.terms[i]
		row := BudgetRow{Term: t.name, Size: t.size, Unit: t.unit, ChangePP: math.NaN()}
		row.fillLinear(l, all, t.name)
		rows = append(rows, row)
		sum.ThicknessNM = math.Hypot(sum.ThicknessNM, row.ThicknessNM)
		sum.SolarPP, sum.ChangePP = math.Hypot(sum.SolarPP, row.SolarPP), math.Hypot(sum.ChangePP, row.ChangePP)
	}
	return append(rows, sum), nil
}

// fillLinear fills the contributions of a term by the errors of the readings.
func (r *BudgetRow) fillLinear(l *budgetTask, all []*Errors, name string) {
	switch name {
	case termNoise:
		r.ThicknessNM, r.SolarPP = math.Sqrt(all[0].Own.At(0, 0)), 100*math.Sqrt(all[0].Own.At(1, 1))
		if len(all) > 1 {
			r.ChangePP = math.Hypot(r.SolarPP, 100*math.Sqrt(all[1].Own.At(1, 1)))
		}
		return
	case termExtrapolation:
		r.fillAlternatives(l)
		return
	}
	var e *effect
	for k := range law {
		if law[k].term == name {
			e = &law[k]
		}
	}
	thickness, solar, change := 0.0, 0.0, 0.0
	before := map[string]float64{}
	if len(all) > 1 {
		all[1].each(e, func(name string, _, solar float64) { before[name] = solar })
	}
	all[0].each(e, func(name string, nm, s float64) {
		thickness, solar = thickness+nm*nm, solar+s*s
		if e.owner.outlives() {
			change += (s - before[name]) * (s - before[name])
		} else {
			change += s*s + before[name]*before[name]
		}
	})
	r.ThicknessNM, r.SolarPP = math.Sqrt(thickness), 100*math.Sqrt(solar)
	if len(all) > 1 {
		r.ChangePP = 100 * math.Sqrt(change)
	}
}

// each calls do for each parameter of an effect, with the errors of thickness and mean that it causes.
func (e *Errors) each(of *effect, do func(name string, nm, solar float64)) {
	for i := range e.Effects {
		name, _, _ := strings.Cut(e.Effects[i].Name, "@")
		if strings.TrimPrefix(name, "T_") == of.name || name == of.name {
			do(e.Effects[i].Name, e.By.At(i, 0), e.By.At(i, 1))
		}
	}
}

// fillAlternatives fills the contribution of what nobody has measured: the root mean square of the films that explain
// all readings as well.
func (r *BudgetRow) fillAlternatives(l *budgetTask) {
	solar, change, n := 0.0, 0.0, 0.0
	for k, first := range l.readings[0].unseen {
		if last := l.readings[len(l.readings)-1].unseen[k]; !math.IsNaN(first + last) {
			solar, change, n = solar+first*first, change+(first-last)*(first-last), n+1
		}
	}
	r.SolarPP = 100 * math.Sqrt(solar/n)
	if len(l.readings) > 1 {
		r.ChangePP = 100 * math.Sqrt(change/n)
	}
}

// isThrough reports whether some reading is of transmittance.
func (l *budgetTask) isThrough() bool {
	for _, p := range l.readings {
		if p.v.IsThrough() {
			return true
		}
	}
	return false
}

// IsThrough reports whether some curve of the fit is of transmittance. Its budget is of the first order then.
func (v *Verdict) IsThrough() bool {
	m, _ := v.physical()
	return m.through
}
