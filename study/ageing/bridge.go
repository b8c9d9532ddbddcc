package ageing

import (
	"cmp"
	"math"
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
	N        int           // spots
	Offset   study.Measure // 100·(solar transmittance on To less that on From), mean over the spots, pp
}

// NewBridges returns the bridges between instruments, in the order of their names, From before To. The standard
// uncertainty of an offset is [study.Uncertainty] of the mean, or the scatter of the mean over spots if that is larger.
func NewBridges(pairs []BridgePair) []Bridge {
	type between struct{ from, to string }
	offs, terms, order := map[between][]float64{}, map[between][]study.Weighted{}, []between{}
	for _, p := range pairs {
		if p.From > p.To {
			p = BridgePair{p.To, p.From, p.B, p.A}
		}
		if p.From == p.To || !p.A.Result.SolarT.Value.Valid() || !p.B.Result.SolarT.Value.Valid() {
			continue
		}
		k := between{p.From, p.To}
		if offs[k] == nil {
			order = append(order, k)
		}
		offs[k] = append(offs[k], 100*float64(p.B.Result.SolarT.Value-p.A.Result.SolarT.Value))
		terms[k] = append(terms[k], changeTerms(p.B, p.A)...)
	}
	slices.SortFunc(order, func(a, b between) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to))
	})
	var out []Bridge
	for _, k := range order {
		n := float64(len(offs[k]))
		mean := measured(study.Num(stat.Mean(offs[k], nil)), scaled(1/n, terms[k]))
		if n > 1 {
			mean.U = max(mean.U, study.Num(stat.StdDev(offs[k], nil)/math.Sqrt(n)))
		}
		if mean.U.Valid() {
			out = append(out, Bridge{k.from, k.to, len(offs[k]), mean})
		}
	}
	return out
}

// SetBridges takes the offsets between instruments off the changes across them. The offset is an effect of an owner of
// its own, which all these changes share: contrasts between coupons do not hang on it. Without a bridge a change across
// instruments has the errors of both sessions, as any other has, and a flag.
func (b *Changes) SetBridges(bridges []Bridge) {
	b.bridges = map[[2]string]study.Weighted{}
	b.offsets = map[[2]string]float64{}
	for _, g := range bridges {
		effect := study.Effect{Owner: study.OwnerBridge, Of: g.From + " to " + g.To, Name: "offset"}
		e := &study.Errors{Shared: []study.Sensitivity{{Effect: effect,
			By: [study.NumberOfOutputs]float64{study.OutSolarT: float64(g.Offset.U)}}}}
		there, back := [2]string{g.From, g.To}, [2]string{g.To, g.From}
		b.offsets[there], b.offsets[back] = float64(g.Offset.Value), -float64(g.Offset.Value)
		b.bridges[there] = study.Weighted{Errors: e, Output: study.OutSolarT, Weight: -1}
		b.bridges[back] = study.Weighted{Errors: e, Output: study.OutSolarT, Weight: 1}
	}
}

// change returns the change of a fit since its baseline, in pp, as a weighted sum of results, and its flag if it is one
// across instruments.
func (b *Changes) change(f, base *study.Fit) (change study.Measure, terms []study.Weighted, flag string) {
	change, terms = changeSince(f, base), changeTerms(f, base)
	if terms == nil {
		return change, terms, ""
	}
	from, to := b.instrumentOf(base), b.instrumentOf(f)
	if from == "" || to == "" || from == to {
		return change, terms, ""
	}
	k := [2]string{from, to}
	offset, bridged := b.bridges[k]
	if !bridged {
		return change, terms, study.FlagInstruments
	}
	terms = append(slices.Clone(terms), offset)
	return measured(change.Value-study.Num(b.offsets[k]), terms), terms, study.FlagBridged
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
