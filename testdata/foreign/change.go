package foreign

// changes computes the true changes of spots and coupons.
func (r *studyRun) changes() {
	for pull := 1; pull <= r.plan.Pulls; pull++ {
		controls := r.controlMeans(pull)
		for i := range r.study.Coupons {
			c := r.study.Coupons[i]
			if c.Role == "blank" {
				continue
			}
			var own []Change
			for _, life := range r.spots {
				if life.coupon == i {
					own = append(own, life.change(c.Code, pull, controls[c.Supplier]))
				}
			}
			r.study.Changes = append(r.study.Changes, own...)
			mean := meanChange(own)
			mean.Coupon, mean.Pull = c.Code, pull
			r.study.CouponChanges = append(r.study.CouponChanges, mean)
		}
	}
}

// change returns the change of a spot, corrected by the mean change of its controls.
func (l spotLife) change(coupon string, pull int, controls Change) Change {
	from, to := l.truths[0], l.truths[pull]
	c := Change{Coupon: coupon, Spot: l.name, Pull: pull,
		ChangePP: 100 * (to.SolarT - from.SolarT), CellPP: 100 * (to.CellT - from.CellT),
		GainKept: to.GainPP / from.GainPP, MaterialNM: to.MaterialLeftNM - from.MaterialLeftNM, Material: to.MaterialLeftNM}
	c.CorrectedPP, c.CellCorrectedPP = c.ChangePP-controls.ChangePP, c.CellPP-controls.CellPP
	return c
}

// controlMeans returns, for each supplier with controls, the unweighted mean change of its
// controls, each the mean of its spots.
func (r *studyRun) controlMeans(pull int) map[string]Change {
	coupons := map[string][]Change{}
	for i, c := range r.study.Coupons {
		if c.Role != "control" {
			continue
		}
		var own []Change
		for _, life := range r.spots {
			if life.coupon == i {
				own = append(own, life.change(c.Code, pull, Change{}))
			}
		}
		coupons[c.Supplier] = append(coupons[c.Supplier], meanChange(own))
	}
	means := map[string]Change{}
	for supplier, list := range coupons {
		means[supplier] = meanChange(list)
	}
	return means
}

// meanChange returns the mean of changes; its places are empty.
func meanChange(list []Change) Change {
	var m Change
	n := float64(len(list))
	for _, c := range list {
		m.ChangePP += c.ChangePP / n
		m.CellPP += c.CellPP / n
		m.CorrectedPP += c.CorrectedPP / n
		m.CellCorrectedPP += c.CellCorrectedPP / n
		m.GainKept += c.GainKept / n
		m.MaterialNM += c.MaterialNM / n
		m.Material += c.Material / n
	}
	return m
}

// group computes the truth about the exposed coupons of one supplier.
func (r *studyRun) group(supplier string, pull int) {
	loss := r.plan.Loss
	mean := loss.MeanPP * float64(pull)
	if loss.By == Unchanged {
		mean = 0
	}
	g := Group{Supplier: supplier, Coating: coatingCode(supplier), Pull: pull, PopulationPP: mean,
		ControlsPP: r.controlMeans(pull)[supplier].ChangePP}
	soil, n := 0.0, 0.0
	for _, life := range r.spots {
		c := r.study.Coupons[life.coupon]
		if c.Supplier != supplier || c.Role != "exposed" {
			continue
		}
		g.LotsPP += mean * life.lot // lots are of one size
		soil += life.soilPP[pull]
		g.CouponsPP += 100 * (life.truths[pull].SolarT - life.truths[0].SolarT)
		n++
	}
	g.CouponsPP /= n
	g.LotsPP = (g.LotsPP + soil) / n
	g.PopulationPP += soil / n
	r.study.Groups = append(r.study.Groups, g)
}
