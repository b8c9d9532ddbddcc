package store

// AsOf returns the study as its roster, its register and its measurements were after a line of the log: rows,
// amendments and withdrawals that came later are not there.
func (v *View) AsOf(line int64) *View {
	kept := keepCorrections(line)
	as := &View{ctx: v.ctx, store: v.store, q: v.q, ready: v.ready}
	as.q, as.ready = momentOf(v.q, kept), momentOf(v.ready, kept)
	return as
}

func momentOf(q querier, kept *keptCorrections) querier {
	if m, ok := q.(moment); ok {
		q = m.querier
	}
	return moment{q, kept}
}
