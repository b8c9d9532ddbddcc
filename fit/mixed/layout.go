package mixed

import "slices"

// layout says where everything stands in the equations, and holds the observations in the order of the leaves.
type layout struct {
	places [][]place // by term and group
	shared []place   // by effect of Model.Shared
	leaves []leaf    // and last the observations of none
	crown  int       // number of effects of terms in the crown; X and y follow
	items  []item    // rows of [Z X y], one after the other
	spans  []int     // where the rows begin, and the end
	order  []int     // the observation of each row
	blocks []block   // of leaves that are eliminated by one worker
}

// place is where the effects of one group stand: in a leaf or in the crown.
type place struct {
	leaf int // -1: crown
	at   int // position of the first effect; -1: the group has no observation
}

// leaf is one group of the first term, or the observations of none.
type leaf struct {
	n        int   // number of effects
	touched  []int // positions in the crown, with X and y, that its observations have; y is last
	from, to int   // its rows
	l, f     int   // where its factors begin: see equations
}

// item is an element of a row: of a covariance, by column after column, or of X and y, of covariance -1. at is its local position: the
// effects of the leaf, then the positions touched.
type item struct {
	at, cov int32
	value   float64
}

// block is a range of leaves.
type block struct{ from, to int }

// mostBlocks bounds the number of blocks. It does not hang on the number of workers, so that sums do not.
const mostBlocks = 16

// lay makes the layout of a problem whose columns are scaled.
func (p *problem) lay(shared [][]Share) {
	l := &p.layout
	rows, leafOf := p.rowsOfLeaves()
	l.leaves = make([]leaf, len(rows))
	for k := range p.terms {
		l.places = append(l.places, l.placesOf(&p.terms[k], leafOf))
	}
	l.placeShared(shared, leafOf)
	touch := toucher{problem: p, shared: shared, seen: make([]bool, l.crown+len(p.x))}
	local := make([]int, l.crown+len(p.x)+1)
	sizeL, sizeF := 0, 0
	for k, of := range rows {
		leaf := &l.leaves[k]
		leaf.touched = touch.by(of)
		for at, position := range leaf.touched {
			local[position] = at
		}
		leaf.from = len(l.spans)
		for _, i := range of {
			l.order, l.spans = append(l.order, i), append(l.spans, len(l.items))
			p.addRow(i, leaf.n, local, touch.sharedOf(i))
		}
		leaf.to = len(l.spans)
		leaf.l, leaf.f = sizeL, sizeF
		sizeL, sizeF = sizeL+leaf.n*leaf.n, sizeF+leaf.n*len(leaf.touched)
	}
	l.spans = append(l.spans, len(l.items))
	size := max(1, (len(l.leaves)+mostBlocks-1)/mostBlocks)
	for from := 0; from < len(l.leaves); from += size {
		l.blocks = append(l.blocks, block{from, min(from+size, len(l.leaves))})
	}
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
func (l *layout) placesOf(t *Term, leafOf []int) []place {
	const unseen = -2
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
		p := &places[g]
		switch {
		case p.leaf == unseen:
			p.leaf, p.at = -1, -1
		case nested:
			p.at = l.leaves[p.leaf].n
			l.leaves[p.leaf].n += t.width()
		default:
			p.leaf, p.at = -1, l.crown
			l.crown += t.width()
		}
	}
	return places
}

// placeShared places the effects of [Model.Shared]: each in the leaf that alone has it, else in the crown.
func (l *layout) placeShared(shared [][]Share, leafOf []int) {
	const unseen = -2
	for i, shares := range shared {
		for _, s := range shares {
			for s.Effect >= len(l.shared) {
				l.shared = append(l.shared, place{unseen, -1})
			}
			switch p := &l.shared[s.Effect]; {
			case p.leaf == unseen:
				p.leaf = leafOf[i]
			case p.leaf != leafOf[i]:
				p.leaf = -1
			}
		}
	}
	for e := range l.shared {
		switch p := &l.shared[e]; {
		case p.leaf == unseen:
			p.leaf = -1
		case p.leaf >= 0:
			p.at = l.leaves[p.leaf].n
			l.leaves[p.leaf].n++
		default:
			p.at = l.crown
			l.crown++
		}
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
			if p := &t.layout.shared[s.Effect]; p.leaf < 0 {
				see(p.at)
			}
		}
		for c, x := range t.x {
			if x[i] != 0 {
				see(t.layout.crown + c)
			}
		}
	}
	for _, at := range touched {
		t.seen[at] = false
	}
	slices.Sort(touched)
	return append(touched, t.layout.crown+len(t.x))
}

// addRow adds the row of an observation of a leaf of n effects. local are the local positions of what it touches.
func (p *problem) addRow(i, n int, local []int, shared []Share) {
	l := &p.layout
	for k := range p.terms {
		t := &p.terms[k]
		g := t.Of[i]
		if g < 0 {
			continue
		}
		at, cov := l.places[k][g], p.covOf[k][t.kind(g)]
		for c := range t.width() {
			position := at.at + c
			if at.leaf < 0 {
				position = n + local[position]
			}
			l.items = append(l.items, item{int32(position), int32(cov), t.Columns[c][i]})
		}
	}
	for _, s := range shared {
		position := l.shared[s.Effect].at
		if l.shared[s.Effect].leaf < 0 {
			position = n + local[position]
		}
		l.items = append(l.items, item{int32(position), int32(len(p.covs) - 1), s.By / p.yUnit})
	}
	for c, x := range p.x {
		if x[i] != 0 {
			l.items = append(l.items, item{int32(n + local[l.crown+c]), -1, x[i]})
		}
	}
	l.items = append(l.items, item{int32(n + local[l.crown+len(p.x)]), -1, p.y[i]})
}
