package mixed

import (
	"cmp"
	"slices"
)

// layout says where everything stands in the equations, and holds the observations in the order of the leaves.
type layout struct {
	places  [][]place // by term and group
	shared  []place   // by effect of Model.Shared
	leaves  []leaf    // and last the observations of none
	members []member  // of the crown
	crown   int       // number of effects in the crown; X and y follow
	items   []item    // rows of [Z X y], one after the other
	spans   []int     // where the rows begin, and the end
	order   []int     // the observation of each row
	blocks  []block
	sizeL   int // of all the factors of the leaves: see equations
	sizeF   int
}

// place is where the effects of one group stand: in a leaf or in the crown.
type place struct {
	leaf int // -1: crown
	at   int // position of the first effect; -1: the group has no observation
}

// member is a group in a leaf, or in the crown.
type member struct {
	cov, width int
	at         int // position of its first effect
}

// leaf is one group of the first term, or the observations of none.
type leaf struct {
	n        int      // number of effects
	members  []member // those whose covariance is estimated come first
	touched  []int    // positions among those of its block that its observations have; y is last
	from, to int      // its rows
	l, f     int      // where its factors begin: see equations
}

// item is an element of a row, which has them in the order of at: their local position, of the effects of the leaf and then
// of what is touched. y is last.
type item struct {
	at    int32
	value float64
}

// block is leaves of members of the same kinds, which one worker eliminates, and which touch much the same.
type block struct {
	leaves []int
	params []int // positions of the parameters of their covariances
	kind   int   // of their variance of e
	crown  []int // positions in the crown, with X and y, that they touch, in their order; y is last
}

// A block has at most mostLeaves leaves, and touches at most wide times the positions that its first leaf does. Neither hangs
// on the number of workers, so that sums do not.
const (
	mostLeaves = 64
	wide       = 2
)

// lay makes the layout of a problem whose columns are scaled.
func (p *problem) lay(shared [][]Share) {
	l := &p.layout
	rows, leafOf := p.rowsOfLeaves()
	l.leaves = make([]leaf, len(rows))
	for k := range p.terms {
		l.places = append(l.places, p.placesOf(k, leafOf))
	}
	p.placeShared(shared, leafOf)
	touch := toucher{problem: p, shared: shared, seen: make([]bool, l.crown+p.x.columns)}
	crowns := make([][]int, len(rows))
	local := make([]int, l.crown+p.x.columns+1)
	for k, of := range rows {
		leaf := &l.leaves[k]
		crowns[k] = touch.by(of)
		for at, position := range crowns[k] {
			local[position] = at
		}
		leaf.from = len(l.spans)
		for _, i := range of {
			l.order, l.spans = append(l.order, i), append(l.spans, len(l.items))
			p.addRow(i, leaf.n, local, touch.sharedOf(i))
			slices.SortFunc(l.items[l.spans[len(l.spans)-1]:], func(a, b item) int { return int(a.at) - int(b.at) })
		}
		leaf.to = len(l.spans)
		leaf.l, leaf.f = l.sizeL, l.sizeF
		l.sizeL, l.sizeF = l.sizeL+leaf.n*leaf.n, l.sizeF+leaf.n*len(crowns[k])
	}
	l.spans = append(l.spans, len(l.items))
	p.makeBlocks(crowns)
}

// makeBlocks makes the blocks of the leaves. crowns are the positions that each touches.
func (p *problem) makeBlocks(crowns [][]int) {
	l := &p.layout
	kinds := make([][]int, len(l.leaves))
	var leaves []int
	for k := range l.leaves {
		leaf := &l.leaves[k]
		if leaf.from == leaf.to {
			continue
		}
		leaves = append(leaves, k)
		slices.SortStableFunc(leaf.members, func(a, b member) int { return p.rank(a) - p.rank(b) })
		for _, m := range leaf.members {
			if p.covs[m.cov].first >= 0 {
				kinds[k] = append(kinds[k], m.cov)
			}
		}
		kinds[k] = append(slices.Compact(kinds[k]), len(p.covs)+p.kindOf(l.order[leaf.from]))
	}
	slices.SortStableFunc(leaves, func(a, b int) int {
		return cmp.Or(slices.Compare(kinds[a], kinds[b]), slices.Compare(crowns[a], crowns[b]))
	})
	touched := map[int]bool{}
	var block []int
	for i, k := range leaves {
		added := 0
		for _, at := range crowns[k] {
			if !touched[at] {
				added++
			}
		}
		if i > 0 && (len(block) == mostLeaves || !slices.Equal(kinds[k], kinds[block[0]]) ||
			len(touched)+added > wide*len(crowns[block[0]])) {
			l.blocks = append(l.blocks, p.newBlock(block, crowns))
			block = nil
			clear(touched)
		}
		block = append(block, k)
		for _, at := range crowns[k] {
			touched[at] = true
		}
	}
	l.blocks = append(l.blocks, p.newBlock(block, crowns))
}

// rank orders members by covariance, those that are not estimated last.
func (p *problem) rank(m member) int {
	if p.covs[m.cov].first < 0 {
		return len(p.covs)
	}
	return m.cov
}

func (p *problem) newBlock(leaves []int, crowns [][]int) block {
	l := &p.layout
	b := block{leaves: leaves, kind: p.kindOf(l.order[l.leaves[leaves[0]].from])}
	for _, m := range l.leaves[leaves[0]].members {
		c := &p.covs[m.cov]
		for k := range c.width * (c.width + 1) / 2 {
			if c.first >= 0 && !slices.Contains(b.params, c.first+k) {
				b.params = append(b.params, c.first+k)
			}
		}
	}
	for _, k := range leaves {
		b.crown = append(b.crown, crowns[k]...)
	}
	slices.Sort(b.crown)
	b.crown = slices.Clip(slices.Compact(b.crown))
	at := make(map[int]int, len(b.crown))
	for k, position := range b.crown {
		at[position] = k
	}
	for _, k := range leaves {
		for _, position := range crowns[k] {
			l.leaves[k].touched = append(l.leaves[k].touched, at[position])
		}
	}
	return b
}

// rowsOfLeaves returns the observations of the groups of the first term, and last those of none, and the leaf of each
// observation, -1 for none.
func (p *problem) rowsOfLeaves() (rows [][]int, leafOf []int) {
	leaves := 0
	if len(p.terms) > 0 {
		leaves = p.terms[0].groups()
	}
	rows, leafOf = make([][]int, leaves+1), make([]int, len(p.y))
	for i := range p.y {
		leafOf[i] = -1
		if leaves > 0 {
			leafOf[i] = p.terms[0].Of[i]
		}
		to := leafOf[i]
		if to < 0 {
			to = leaves
		}
		rows[to] = append(rows[to], i)
	}
	return rows, leafOf
}

// placesOf places the groups of a term: in the leaves if each lies in one, else in the crown.
func (p *problem) placesOf(term int, leafOf []int) []place {
	const unseen = -2
	t := &p.terms[term]
	places := make([]place, t.groups())
	for g := range places {
		places[g].leaf = unseen
	}
	nested := true
	for i, g := range t.Of {
		if g < 0 {
			continue
		}
		if places[g].leaf == unseen {
			places[g].leaf = leafOf[i]
		}
		nested = nested && places[g].leaf >= 0 && places[g].leaf == leafOf[i]
	}
	for g := range places {
		at := &places[g]
		switch {
		case at.leaf == unseen:
			at.leaf, at.at = -1, -1
			continue
		case !nested:
			at.leaf = -1
		}
		p.put(at, p.covOf[term][t.kind(g)], t.width())
	}
	return places
}

// put gives the effects of a group their position in their leaf, or in the crown.
func (l *layout) put(at *place, cov int, width int) {
	if at.leaf >= 0 {
		leaf := &l.leaves[at.leaf]
		at.at = leaf.n
		leaf.members = append(leaf.members, member{cov, width, at.at})
		leaf.n += width
		return
	}
	at.at = l.crown
	l.members = append(l.members, member{cov, width, at.at})
	l.crown += width
}

// placeShared places the effects of [Model.Shared]: each in the leaf that alone has it, else in the crown.
func (p *problem) placeShared(shared [][]Share, leafOf []int) {
	const unseen = -2
	l := &p.layout
	for i, shares := range shared {
		for _, s := range shares {
			for s.Effect >= len(l.shared) {
				l.shared = append(l.shared, place{unseen, -1})
			}
			switch at := &l.shared[s.Effect]; {
			case at.leaf == unseen:
				at.leaf = leafOf[i]
			case at.leaf != leafOf[i]:
				at.leaf = -1
			}
		}
	}
	for e := range l.shared {
		at := &l.shared[e]
		if at.leaf == unseen {
			at.leaf = -1
			continue
		}
		l.put(at, len(p.covs)-1, 1)
	}
}

// toucher lists the positions in the crown that observations have.
type toucher struct {
	*problem
	shared [][]Share
	seen   []bool // all false between two calls
}

// sharedOf returns what an observation shares.
func (t *toucher) sharedOf(i int) []Share {
	if t.shared == nil {
		return nil
	}
	return t.shared[i]
}

// by lists the positions, in their order, and at last that of y.
func (t *toucher) by(rows []int) (touched []int) {
	if len(rows) == 0 {
		return nil
	}
	see := func(at int) {
		if !t.seen[at] {
			t.seen[at], touched = true, append(touched, at)
		}
	}
	for _, i := range rows {
		for k := range t.terms {
			if g := t.terms[k].Of[i]; g >= 0 && t.places[k][g].leaf < 0 {
				for c := range t.terms[k].width() {
					see(t.places[k][g].at + c)
				}
			}
		}
		for _, s := range t.sharedOf(i) {
			if at := &t.layout.shared[s.Effect]; at.leaf < 0 {
				see(at.at)
			}
		}
		columns, _ := t.x.row(i)
		for _, c := range columns {
			see(t.layout.crown + int(c))
		}
	}
	for _, at := range touched {
		t.seen[at] = false
	}
	slices.Sort(touched)
	return append(touched, t.layout.crown+t.x.columns)
}

// addRow adds the row of an observation of a leaf of n effects. local are the local positions of what it touches.
func (p *problem) addRow(i, n int, local []int, shared []Share) {
	l := &p.layout
	add := func(at place, c int, value float64) {
		position := at.at + c
		if at.leaf < 0 {
			position = n + local[position]
		}
		l.items = append(l.items, item{int32(position), value})
	}
	for k := range p.terms {
		t := &p.terms[k]
		if g := t.Of[i]; g >= 0 {
			for c := range t.width() {
				add(l.places[k][g], c, t.Columns[c][i])
			}
		}
	}
	for _, s := range shared {
		add(l.shared[s.Effect], 0, s.By/p.yUnit)
	}
	columns, values := p.x.row(i)
	for k, c := range columns {
		add(place{-1, l.crown + int(c)}, 0, values[k])
	}
	add(place{-1, l.crown + p.x.columns}, 0, p.y[i])
}
