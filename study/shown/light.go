package shown

import (
	"fmt"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// Lossless is whether the film of a row is taken as lossless; nil: there is none.
func Lossless(r *study.Result) any {
	if !r.SolarT.Value.Valid() {
		return nil
	}
	return r.IsLossless()
}

// InLight are the columns of results in other lights.
func InLight(lights []evaluate.Light) List[*desk.LitRow] {
	type row = desk.LitRow
	value := Value[*row]
	l := List[*row]{
		value("coupon", func(r *row) any { return r.Coupon }).Ranked(1, "", nil),
		value("role", func(r *row) any { return r.Role }),
		value("coating", func(r *row) any { return OrEmpty(r.Coating) }).Ranked(4, "", nil),
		value("lot", func(r *row) any { return OrEmpty(r.Lot) }),
		value("exposure", func(r *row) any { return OrEmpty(r.Exposure) }),
		value("pull", func(r *row) any { return OrNil(r.Pull) }).Ranked(1, "", nil),
		value("dose", func(r *row) any { return OrNil(r.Dose) }),
		value("dose_unit", func(r *row) any { return OrEmpty(r.DoseUnit) }),
		value("spot", func(r *row) any { return r.Spot }).Ranked(1, "", nil),
		value("condition", func(r *row) any { return OrEmpty(r.Condition) }),
		value("session", func(r *row) any { return OrEmpty(r.Session) }),
	}
	measured := func(name string, rank int, head string, factor float64, of func(r *row) study.Measure) {
		l = append(l, value(name, func(r *row) any { return OrNil(of(r).Value) }).
			Ranked(rank, head, func(r *row) string { return PlusMinus(of(r), factor, "") }),
			value("u_"+name, func(r *row) any { return OrNil(of(r).U) }))
	}
	measured("solar_T", 3, "solar T / %", 100, func(r *row) study.Measure { return r.SolarT })
	measured("corrected_change_pp", 5, "corrected / pp", 1, func(r *row) study.Measure { return r.CorrectedChange })
	for i := range lights {
		name := lights[i].Name
		in := func(of func(l *desk.Lit) study.Measure) func(r *row) study.Measure {
			return func(r *row) study.Measure {
				if r.In[i].Row == nil {
					return study.NoMeasure()
				}
				return of(&r.In[i])
			}
		}
		measured("T_"+name, 2, "T "+name+" / %", 100, in(func(l *desk.Lit) study.Measure { return l.Row.SolarT }))
		if lights[i].Response != nil {
			measured("current_change_percent", 4, "current / %", 1, in(func(l *desk.Lit) study.Measure {
				return l.CurrentChange(l.Row.Change)
			}))
			measured("corrected_current_change_percent", 1, "current, corrected / %", 1, in(func(l *desk.Lit) study.Measure {
				return l.CurrentChange(l.Row.CorrectedChange)
			}))
			continue
		}
		measured("modifier_"+name, 3, "T "+name+" / solar T", 1, in(func(l *desk.Lit) study.Measure { return l.Modifier }))
		measured("gain_"+name+"_pp", 4, "gain "+name+" / pp", 1, in(func(l *desk.Lit) study.Measure { return l.Row.Gain }))
		measured("change_"+name+"_pp", 4, "change "+name+" / pp", 1, in(func(l *desk.Lit) study.Measure { return l.Row.Change }))
		measured("corrected_change_"+name+"_pp", 1, "corrected "+name+" / pp", 1, in(func(l *desk.Lit) study.Measure {
			return l.Row.CorrectedChange
		}))
	}
	return append(l, value("lossless", func(r *row) any { return Lossless(r.Result) }),
		value("flags", func(r *row) any { return append([]string{}, r.Flags...) }).Ranked(3, "", nil).Folded(24))
}

// LightLines say what the lights of results are, and how the values are meant.
func LightLines(lights []evaluate.Light) (lines []string) {
	for i := range lights {
		lines = append(lines, fmt.Sprintf("%s: AM1.5 global, unpolarised, %s", lights[i].Name, lights[i].Says))
	}
	return append(lines, "values ± U (k=2), through the front surface; fitted now, nothing is stored")
}
