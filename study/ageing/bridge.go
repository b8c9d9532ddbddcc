package ageing

import (
	"cmp"
	"slices"

	"gonum.org/v1/gonum/stat"

	"wane/study"
)

// BridgePair is one spot at one pull that was read on two instruments, with the fit of its readings on each.
type BridgePair struct {
	From, To string // the instruments
	A, B     *study.Fit
}

// Bridge is what spots that were read on two instruments at one pull say of the offset between these.
type Bridge struct {
	From, To string
	N        int              // spots
	Offset   study.Measure    // the quantity on To less that on From, mean over the spots: of solar_T, in pp
	Terms    []study.Weighted // the offset as a sum of results
}

// NewBridges returns the bridges of a quantity between instruments, in the order of their names, From before To. The standard
// uncertainty of an offset is [study.Uncertainty] of the mean. If the spots scatter more than their errors explain, the
// rest is an effect of its own.
func NewBridges(q study.Followed, pairs []BridgePair) []Bridge {
	type between struct{ from, to string }
	all, order := map[between][]spotChange{}, []between{}
	for _, p := range pairs {
		if p.From > p.To {
			p = BridgePair{p.To, p.From, p.B, p.A}
		}
		if p.From == p.To || !q.Value(&p.A.Result).Valid() || !q.Value(&p.B.Result).Valid() {
			continue
		}
		k := between{p.From, p.To}
		if all[k] == nil {
			order = append(order, k)
		}
		both := q.Fits([]*study.Fit{p.A, p.B})
		all[k] = append(all[k], spotChange{float64(q.Value(&p.B.Result) - q.Value(&p.A.Result)),
			changeTerms(&q, both[1], both[0])})
	}
	slices.SortFunc(order, func(a, b between) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to))
	})
	var out []Bridge
	for _, k := range order {
		if b := bridgeOf(k.from, k.to, all[k]); b.Offset.U.Valid() {
			out = append(out, b)
		}
	}
	return out
}

// bridgeOf returns the bridge by the differences of spots. The sessions in which these were read keep their effects in
// the terms of the offset, so that they cancel against those of a change across the instruments.
func bridgeOf(from, to string, spots []spotChange) Bridge {
	values, all, s := make([]float64, len(spots)), []study.Weighted(nil), sample{n: len(spots)}
	for i, spot := range spots {
		values[i], all = spot.value, append(all, spot.terms...)
		s.variances += study.Covariance(spot.terms, spot.terms)
	}
	s.sum = condensed(all) // at once: spots of one coupon share its effects
	b := Bridge{From: from, To: to, N: len(spots)}
	b.Terms = s.meanSharing(values, study.Effect{Owner: study.OwnerBridge, Of: from + " to " + to, Name: "offset"})
	b.Offset = measured(study.Num(stat.Mean(values, nil)), b.Terms)
	return b
}

// SetBridges takes the offsets between instruments off the changes across them. The terms of an offset are among those
// of each of these changes: what the sessions of the offset share with those of the change cancels, and contrasts
// between coupons do not hang on the offset. Without a bridge a change across instruments has the errors of both
// sessions, as any other has, and a flag.
func (b *Changes) SetBridges(bridges []Bridge) {
	b.bridges = map[[2]string]spotChange{}
	for _, g := range bridges {
		b.bridges[[2]string{g.From, g.To}] = spotChange{float64(g.Offset.Value), g.Terms}
		b.bridges[[2]string{g.To, g.From}] = spotChange{-float64(g.Offset.Value), scaled(-1, g.Terms)}
	}
}

// change returns the change of a fit since its baseline, in pp, as a weighted sum of results, and its flag if it is one
// across instruments.
func (b *Changes) change(f, base *study.Fit) (change study.Measure, terms []study.Weighted, flag string) {
	change, terms = changeSince(&b.follows, f, base), changeTerms(&b.follows, f, base)
	if terms == nil {
		return change, terms, ""
	}
	from, to := b.instrumentOf(base), b.instrumentOf(f)
	if from == "" || to == "" || from == to {
		return change, terms, ""
	}
	offset, bridged := b.bridges[[2]string{from, to}]
	if !bridged {
		return change, terms, study.FlagInstruments
	}
	terms = append(terms, scaled(-1, offset.terms)...)
	return measured(change.Value-study.Num(offset.value), terms), terms, study.FlagBridged
}

// instrumentOf returns the instrument of all readings of a fit; empty if it is not known, or not one.
func (b *Changes) instrumentOf(f *study.Fit) string {
	found := ""
	for i, session := range sessionsOf(f) {
		instrument := b.instruments[session]
		if i > 0 && instrument != found {
			return ""
		}
		found = instrument
	}
	return found
}
