package series

import (
	"fmt"
	"math"

	"wane/study"
)

// forms are the errors of the values of one coupon, in their order, while they are gathered.
type forms struct {
	values  []form
	effects map[study.Effect]int  // those seen
	owns    map[*study.Errors]int // the errors of fits of their own, as effects
	list    []study.Effect
	next    int             // the effect that is likely to come next: they come in much the same order each time
	uses    []int           // how many values each is part of
	dof     map[int]float64 // of the standard uncertainties of effects that were estimated from few values
}

// form is the errors of one value.
type form struct {
	known  bool
	shares []Share // numbers of effects in forms.list
}

func newForms() *forms {
	return &forms{effects: map[study.Effect]int{}, owns: map[*study.Errors]int{}, dof: map[int]float64{}}
}

// add adds the errors of a value that is a sum of results; none: it has none.
func (f *forms) add(terms []study.Weighted) {
	v := form{known: true, shares: make([]Share, 0, len(f.list))}
	for _, t := range terms {
		v.known = v.known && t.Errors.Known()
	}
	if v.known && len(terms) > 0 {
		study.Spread(terms, func(s *study.Sensitivity, by float64) {
			n := f.number(s.Effect)
			if s.DoF > 0 {
				f.dof[n] = s.DoF
			}
			v.shares = append(v.shares, Share{n, by})
		}, func(of *study.Errors, by float64) {
			if by != 0 {
				v.shares = append(v.shares, Share{f.ownNumber(of), by})
			}
		})
	}
	for _, s := range v.shares {
		f.uses[s.Effect]++
	}
	f.values = append(f.values, v)
}

func (f *forms) number(e study.Effect) int {
	if f.next < len(f.list) && f.list[f.next] == e {
		f.next++
		return f.next - 1
	}
	n, known := f.effects[e]
	if !known {
		n = f.append(e)
		f.effects[e] = n
	}
	f.next = n + 1
	return n
}

func (f *forms) ownNumber(of *study.Errors) int {
	n, known := f.owns[of]
	if !known {
		n = f.append(study.Effect{Owner: study.OwnerReading, Name: fmt.Sprintf("own %d", len(f.owns)+1)})
		f.owns[of] = n
	}
	return n
}

func (f *forms) append(e study.Effect) int {
	f.list, f.uses = append(f.list, e), append(f.uses, 0)
	return len(f.list) - 1
}

// ofOneCoupon reports whether only values of one coupon share the effects of an owner.
func ofOneCoupon(o study.Owner) bool {
	switch o {
	case study.OwnerPlacement, study.OwnerCoupon, study.OwnerSpot, study.OwnerReading:
		return true
	}
	return false
}

// fill gives the points their errors. What only one value of the coupon has, and no other coupon shares, is its own.
func (p *Prepared) fill(f *forms, of func(*Point) *Value) {
	number := make([]int, len(f.list)) // in p.local, from 1
	for i := range p.points {
		v := of(&p.points[i])
		if v.Known = f.values[i].known; !v.Known {
			continue
		}
		v.Shared = make([]Share, 0, len(f.values[i].shares))
		for _, s := range f.values[i].shares {
			if f.uses[s.Effect] == 1 && ofOneCoupon(f.list[s.Effect].Owner) {
				v.Own += s.By * s.By
				continue
			}
			if number[s.Effect] == 0 {
				e := f.list[s.Effect]
				if e.Of == "" && ofOneCoupon(e.Owner) {
					e.Of = p.coupon
				}
				p.local, p.dof = append(p.local, e), append(p.dof, f.dof[s.Effect])
				number[s.Effect] = len(p.local)
			}
			v.Shared = append(v.Shared, Share{number[s.Effect] - 1, s.By})
		}
		if math.IsNaN(v.Value) {
			v.Errors = Errors{}
		}
	}
}
