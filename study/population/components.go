package population

// list lists the variances of the model.
func (p *Population) list() {
	if p.fit == nil {
		return
	}
	unit := p.Quantity.LevelUnit
	for k, of := range p.levelKinds {
		p.Components = append(p.Components, Component{Name: CouponLevels, Of: of.of, Exposure: of.exposure, N: of.n,
			Variance: p.fit.Terms[p.levelTerm][k].At(0, 0), Unit: unit})
	}
	for k, of := range p.rateKinds {
		p.Components = append(p.Components, Component{Name: CouponRates, Of: of.of, Exposure: of.exposure, N: of.n,
			Variance: p.fit.Terms[p.rateTerm][k].At(0, 0), Unit: of.unit})
	}
	for k, of := range p.lotKinds {
		p.Components = append(p.Components, Component{Name: LotRates, Of: of.of, Exposure: of.exposure, N: of.n,
			Variance: p.fit.Terms[p.lotTerm][k].At(0, 0), Unit: of.unit})
	}
	if p.sessionTerm >= 0 {
		p.Components = append(p.Components, Component{Name: Sessions, N: p.sessionSpare,
			Variance: p.fit.Terms[p.sessionTerm][0].At(0, 0), Unit: unit})
	}
	for k, variance := range p.fit.Residuals {
		of := kind{n: len(p.values)}
		if p.residualKinds != nil {
			of = p.residualKinds[k]
		}
		p.Components = append(p.Components, Component{Name: Residual, Of: of.of, Exposure: of.exposure, N: of.n, Variance: variance,
			Unit: unit})
	}
	own, shared, n := 0.0, 0.0, 0
	for i := range p.values {
		if e := p.values[i].Errors; e.Known {
			own, shared, n = own+e.Own, shared+e.Variance()-e.Own, n+1
		}
	}
	if n > 0 {
		p.Components = append(p.Components, Component{Name: OwnErrors, N: n, Variance: own / float64(n), Unit: unit, Known: true},
			Component{Name: SharedErrors, N: n, Variance: shared / float64(n), Unit: unit, Known: true})
	}
}
