package study

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// UPart is a part of the uncertainty of a quantity: what the effects of one owner of one name contribute, those of
// several angles or curves together. The name is empty for all effects of a joint fit, and the owner for what is the
// fit's own: noise, placement and reading.
type UPart struct {
	Owner Owner
	Name  string
	U     float64 // in the unit of the quantity; the squares add to the variance
}

// Parts returns the parts of the uncertainty of a quantity, the largest first; none if the errors are not known.
func (e *Errors) Parts(q Output) []UPart {
	if !e.Known() {
		return nil
	}
	parts := []UPart{{U: e.OwnOf(q, q)}} // variances, for now
	for i := range e.Shared {
		s := &e.Shared[i]
		name, _, _ := strings.Cut(s.Name, "@")
		if s.Owner == OwnerJoint {
			name = ""
		}
		k := slices.IndexFunc(parts, func(p UPart) bool { return p.Owner == s.Owner && p.Name == name })
		if k < 0 {
			k, parts = len(parts), append(parts, UPart{Owner: s.Owner, Name: name})
		}
		parts[k].U += s.By[q] * s.By[q]
	}
	for i := range parts {
		parts[i].U = math.Sqrt(max(0, parts[i].U))
	}
	slices.SortStableFunc(parts, func(a, b UPart) int { return cmp.Compare(b.U, a.U) })
	return parts
}
