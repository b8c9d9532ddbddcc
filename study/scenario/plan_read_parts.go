package scenario

import (
	"math"
	"slices"
)

func (r *planReader) reading(top part) {
	d := &r.plan.Reading
	*d = Reading{AnglesDeg: []float64{8, 30, 45, 60}, LowNM: 380, HighNM: 1100, StepNM: 2, Noise: 0.0003, Mountings: 1}
	f := r.part(top, "reading", "a reading", readingKeys)
	if f == nil {
		return
	}
	if f.At("angles") != nil {
		d.AnglesDeg = nil
		for _, item := range f.Items("angles", "write the angles in degrees: angles: [8, 30, 45, 60]") {
			a := r.Number("an angle", item, 0, 80, "degrees from the normal, 0 to 80")
			if slices.Contains(d.AnglesDeg, a) {
				r.Fault(item.Line, "write each angle once", "%s degrees stand there twice", item.Value)
			}
			d.AnglesDeg = append(d.AnglesDeg, a)
		}
	}
	d.LowNM = f.number("low", 380, 300, 2000, "the shortest wavelength in nm")
	d.HighNM = f.number("high", 1100, 320, 2500, "the longest wavelength in nm")
	d.StepNM = f.number("step", 2, 0.2, 50, "the step of the wavelengths in nm")
	d.Noise = f.number("noise", 0.0003, 0, 0.01, "the standard deviation of one point, a fraction such as 0.0003")
	d.Mountings = f.count("mountings", 1, 1, 10, "how often each spot is set down and read")
	d.LightTrap = f.word("light-trap", "no", "no", "yes") == "yes"
	points := (d.HighNM - d.LowNM) / d.StepNM
	if points < 40 || points > mostPoints {
		r.Fault(f.Line("step"), "choose low, high and step so that a curve has 41 to 4001 points", "a curve from %g to %g nm has %.0f points",
			d.LowNM, d.HighNM, math.Floor(points)+1)
	}
}

func (r *planReader) errors(top part) {
	p := r.plan
	p.Law = defaultLaw(p.Glass, p.Back)
	names := make([]string, len(lawWords))
	for i := range lawWords {
		names[i] = lawWords[i].name
	}
	f := r.part(top, "errors", "the list of errors", names)
	if f == nil {
		return
	}
	for _, w := range lawWords {
		at := w.at(&p.Law)
		*at = f.number(w.name, *at, 0, w.most, "the standard deviation "+w.about)
	}
}

func (r *planReader) faults(top part) {
	f := r.part(top, "faults", "the list of faults", faultKeys)
	if f == nil {
		return
	}
	d := &r.plan.Faults
	d.Lost = f.number("lost", 0, 0, 1, "the chance that an exposed coupon is lost between two pulls, 0 to 1")
	for _, fault := range []struct {
		key, about string
		of         *Fault
		size, most float64
	}{
		{"join", "the step in reflectance, a fraction", &d.Join, 0.001, 0.1},
		{"leached-blank", "the thickness of the leached skin in nm", &d.Leached, 50, 500},
		{"soiling", "the thickness of the residue in nm", &d.Soiling, 3, 100},
	} {
		g := r.part(*f, fault.key, fault.key, faultParts)
		if g == nil {
			continue
		}
		fault.of.Chance = g.needed("chance", 0, 1, "its chance, 0 to 1")
		fault.of.Size = g.number("size", fault.size, 0, fault.most, fault.about)
	}
}

func (r *planReader) compare(top part) {
	f := r.part(top, "compare", "a comparison", compareKeys)
	if f == nil {
		return
	}
	c := &Compare{ByRate: f.word("by", "dose", "dose", "rate") == "rate"}
	c.Level = f.number("level", 0.95, 0.5, 0.9999, "the level of the intervals, such as 0.95")
	c.Margin = f.number("margin", 0, 0, 5, "the difference within which coatings count as equal, in pp")
	r.plan.Compare = c
	if len(r.plan.Coatings) < 2 {
		r.Fault(top.Line("compare"), "plan a second coating, or leave compare out", "there is nothing to compare one coating with")
	}
	for i := range r.plan.Coatings {
		if r.plan.Coatings[i].Coupons < 2 {
			r.Fault(top.Line("coatings"), "plan at least two coupons of each coating", "one coupon says nothing of coating %s",
				r.plan.Coatings[i].Coating)
		}
	}
}

func (r *planReader) rule(top part) {
	f := r.part(top, "rule", "a rule", ruleKeys)
	if f == nil {
		return
	}
	u := &Rule{Coating: f.name("coating", "name the coating that is judged")}
	u.Limit = f.needed("limit", 0, 5, "the loss that coupons must stay below, in pp")
	u.Failures = f.count("failures", 0, 0, mostCoupons, "how many coupons may fail")
	u.Share = f.number("share", 0.8, 0.01, 0.9999, "the share of the product that has to conform, such as 0.8")
	u.Confidence = f.number("confidence", 0.95, 0.5, 0.9999, "the confidence of it, such as 0.95")
	u.Excused = f.word("lost", "fail", "fail", "excused") == "excused"
	r.plan.Rule = u
	at := slices.IndexFunc(r.plan.Coatings, func(c Coating) bool { return c.Coating == u.Coating })
	switch {
	case u.Coating == "":
	case at < 0:
		r.Fault(f.Line("coating"), "name one of the coatings of the plan", "the plan has no coating %s", u.Coating)
	case u.Failures >= r.plan.Coatings[at].Coupons:
		r.Fault(f.Line("failures"), "let fewer coupons fail than there are", "%d of %d coupons may fail", u.Failures,
			r.plan.Coatings[at].Coupons)
	case u.Limit == 0:
		r.Fault(f.Line("limit"), "write the loss that coupons must stay below, in pp", "a limit of 0 is passed by no loss")
	}
}
