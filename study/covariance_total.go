package study

import "slices"

// total is a weighted sum of results, by fits and by effects.
//
// Many sums are made, each of a few fits whose effects come in much the same order. Effects are found there by this order
// and by their owners, therefore: to look each of them up would take most of the time of a study.
type total struct {
	fits   []weightedFit
	runs   []run
	sums   []float64     // of weights times sensitivities, one for each effect of the runs
	firsts map[owned]int // the first run of each owner, where there are many fits; nil: it is looked for
}

// weightedFit is a fit with the weights of its quantities.
type weightedFit struct {
	errors  *Errors
	weights [NumberOfOutputs]float64
}

// run is some effects of one owner. No effect is in two runs.
type run struct {
	effects []Sensitivity // as the first fit has them that has them
	at      int           // where in the sums the first is
	next    int           // the next run of the same owner; -1: there is none
}

// owned names the owner of effects.
type owned struct {
	owner Owner
	of    string
}

// room is where small sums are made, so that nothing is allocated for them.
type room struct {
	fits [4]weightedFit
	runs [24]run
	sums [96]float64
}

// manyFits is the number of terms of a sum above which fits and owners are looked up in maps.
const manyFits = 12

// total returns the sum of terms, which is valid as long as r is.
func (r *room) total(terms []Weighted) total {
	t := total{fits: r.fits[:0], runs: r.runs[:0], sums: r.sums[:0]}
	if len(terms) > manyFits {
		t.firsts = map[owned]int{}
	}
	t.fits = weigh(t.fits, terms)
	for i := range t.fits { // after the weights of each fit, so that a sum less itself is 0
		t = t.add(&t.fits[i])
	}
	return t
}

// weigh appends each fit of some terms once, with its weights.
func weigh(fits []weightedFit, terms []Weighted) []weightedFit {
	var at map[*Errors]int
	if len(terms) > manyFits {
		at = make(map[*Errors]int, len(terms))
	}
	for _, term := range terms {
		k, known := at[term.Errors]
		if at == nil {
			k = slices.IndexFunc(fits, func(f weightedFit) bool { return f.errors == term.Errors })
			known = k >= 0
		}
		if !known {
			k, fits = len(fits), append(fits, weightedFit{errors: term.Errors})
			if at != nil {
				at[term.Errors] = k
			}
		}
		fits[k].weights[term.Output] += term.Weight
	}
	return fits
}

// add adds the effects of a fit.
func (t total) add(f *weightedFit) total {
	expected := 0 // the run that the next effects are likely to be
	for rest := f.errors.Shared; len(rest) > 0; {
		n := 1
		for n < len(rest) && isOfOwner(&rest[n], &rest[0]) {
			n++
		}
		t, expected = t.addRun(rest[:n], expected, &f.weights)
		rest = rest[n:]
	}
	return t
}

// addRun adds effects of one owner, and returns the run behind theirs.
func (t total) addRun(part []Sensitivity, expected int, weights *[NumberOfOutputs]float64) (total, int) {
	if expected < len(t.runs) && t.runs[expected].is(part) {
		t.sum(t.runs[expected].at, part, weights)
		return t, expected + 1
	}
	first := t.first(&part[0])
	for k := first; k >= 0; k = t.runs[k].next {
		if t.runs[k].is(part) {
			t.sum(t.runs[k].at, part, weights)
			return t, k + 1
		}
	}
	begin := 0 // of those that were not found
	for i := range part {
		if at := t.place(first, part[i].Name); at >= 0 {
			t = t.appendRun(part[begin:i], first, weights)
			t.sum(at, part[i:i+1], weights)
			begin = i + 1
		}
	}
	return t.appendRun(part[begin:], first, weights), expected + 1
}

// sum adds effects to the sums from a place on.
func (t *total) sum(at int, part []Sensitivity, weights *[NumberOfOutputs]float64) {
	sums := t.sums[at : at+len(part)]
	for i := range part {
		for q, by := range &part[i].By {
			if weights[q] != 0 {
				sums[i] += weights[q] * by
			}
		}
	}
}

// appendRun adds effects that are not there yet. first is the first run of their owner, -1 if there is none.
func (t total) appendRun(part []Sensitivity, first int, weights *[NumberOfOutputs]float64) total {
	if len(part) == 0 {
		return t
	}
	added, at := len(t.runs), len(t.sums)
	t.runs = append(t.runs, run{part, at, -1})
	for range part {
		t.sums = append(t.sums, 0)
	}
	t.sum(at, part, weights)
	switch {
	case first >= 0:
		last := first
		for t.runs[last].next >= 0 {
			last = t.runs[last].next
		}
		t.runs[last].next = added
	case t.firsts != nil:
		t.firsts[owned{part[0].Owner, part[0].Of}] = added
	}
	return t
}

// first returns the first run of the owner of an effect, -1 if there is none.
func (t *total) first(s *Sensitivity) int {
	if t.firsts != nil {
		if k, ok := t.firsts[owned{s.Owner, s.Of}]; ok {
			return k
		}
		return -1
	}
	for k := range t.runs {
		if isOfOwner(&t.runs[k].effects[0], s) {
			return k
		}
	}
	return -1
}

// place returns where the sum of the effect with this name is, -1 if there is none. first is the first run of its owner.
func (t *total) place(first int, name string) int {
	for k := first; k >= 0; k = t.runs[k].next {
		for i := range t.runs[k].effects {
			if t.runs[k].effects[i].Name == name {
				return t.runs[k].at + i
			}
		}
	}
	return -1
}

// is reports whether the run is of these effects of one owner.
func (r *run) is(part []Sensitivity) bool {
	if len(r.effects) != len(part) || !isOfOwner(&r.effects[0], &part[0]) {
		return false
	}
	for i := range part {
		if r.effects[i].Name != part[i].Name {
			return false
		}
	}
	return true
}

func isOfOwner(a, b *Sensitivity) bool { return a.Of == b.Of && a.Owner == b.Owner }

// times returns the covariance of two sums.
func (t *total) times(o *total) float64 {
	sum := t.ownTimes(o)
	if t == o {
		for _, x := range t.sums {
			sum += x * x
		}
		return sum
	}
	for k := range t.runs {
		r := &t.runs[k]
		first := o.first(&r.effects[0])
		for i := range r.effects {
			if at := o.place(first, r.effects[i].Name); at >= 0 {
				sum += t.sums[r.at+i] * o.sums[at]
			}
		}
	}
	return sum
}

// ownTimes returns the part of the covariance that is of what only one fit has.
func (t *total) ownTimes(o *total) (sum float64) {
	for i := range t.fits {
		f := &t.fits[i]
		k := i
		if t != o {
			k = slices.IndexFunc(o.fits, func(g weightedFit) bool { return g.errors == f.errors })
		}
		if k >= 0 {
			sum = f.addOwnTimes(sum, &o.fits[k])
		}
	}
	return sum
}

// addOwnTimes adds the own covariance of two sums of the quantities of one fit to sum.
func (f *weightedFit) addOwnTimes(sum float64, o *weightedFit) float64 {
	for i, x := range f.weights {
		if x == 0 {
			continue
		}
		for j, y := range o.weights {
			if y != 0 {
				sum += x * y * f.errors.OwnOf(Output(i), Output(j))
			}
		}
	}
	return sum
}
