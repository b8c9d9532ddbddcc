package mixed

import (
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// slopes are derivatives of the deviance by the parameters, which are elements of covariances: with V the covariance of y and
// B_m its derivative by parameter m,
//
//	tr(P B_m) - yᵀP B_m P y, and by two of them 2 yᵀP B_m P B_n P y - tr(P B_m P B_n)
type slopes struct {
	first   []float64
	average *mat.SymDense // yᵀP B_m P B_n P y: what the second derivatives are on average
	second  *mat.SymDense // nil: not asked for

	expected *mat.SymDense // tr(P B_m P B_n), what they are expected to be at these parameters; with second

	cov *covSlopes // with second
}

// of returns the slopes; curved asks for the second derivatives too.
func (q *equations) slopes(curved bool) (*slopes, error) {
	inverse, err := q.inverse()
	if err != nil {
		return nil, err
	}
	u, n := q.unknowns, len(q.params)
	s := &slopes{first: make([]float64, n), average: mat.NewSymDense(max(1, n), nil)}
	crown := q.solve()
	q.fromFactors(q.members, crown, 1)
	parts := make([]*partSlopes, len(q.blocks))
	q.inBlocks(len(parts), func(k int) { parts[k] = q.slopesOf(&q.blocks[k], crown, inverse, curved) })
	by := mat.NewDense(max(1, n), u, nil) // rows are Tᵀ V_L⁻¹ B_m P y
	for k, part := range parts {
		at := q.blocks[k].crown
		for i, m := range part.params {
			s.first[m] += part.first[i]
			for j, o := range part.params[:i+1] {
				s.average.SetSym(m, o, s.average.At(m, o)+part.own[i*len(part.params)+j])
			}
			row := by.RawRowView(m)
			for c, position := range at[:len(at)-1] {
				row[position] += part.by[i*len(at)+c]
			}
		}
	}
	c := q.newCrownSlopes(crown, inverse)
	c.add(s, by)
	var through, both mat.Dense
	through.Mul(by, inverse)
	both.Mul(&through, by.T())
	for m := range n {
		for o := range m + 1 {
			s.average.SetSym(m, o, s.average.At(m, o)-(both.At(m, o)+both.At(o, m))/2)
		}
	}
	if curved {
		q.curve(s, parts, c, inverse)
	}
	return s, nil
}

// crownSlopes are the columns of the crown whose covariances are estimated.
type crownSlopes struct {
	*equations
	columns []int       // their positions
	members []member    // with at in columns
	rest    []float64   // Zᵀ P y, by column
	through *mat.Dense  // inverse times gram, at the columns
	inner   [][]float64 // Zᵀ P Z of each member, by rows
}

func (q *equations) newCrownSlopes(crown []float64, inverse *mat.Dense) *crownSlopes {
	c := &crownSlopes{equations: q}
	for _, m := range q.members {
		if q.covs[m.cov].first < 0 {
			continue
		}
		c.members = append(c.members, member{m.cov, m.width, len(c.columns)})
		for a := range m.width {
			c.columns = append(c.columns, m.at+a)
		}
	}
	if len(c.columns) == 0 {
		return c
	}
	u := q.unknowns
	gram := mat.NewDense(u, len(c.columns), nil)
	for j, column := range c.columns {
		row := q.gram.RawRowView(column)
		c.rest = append(c.rest, row[u]-floats.Dot(row[:u], crown))
		gram.SetCol(j, row[:u])
	}
	c.through = mat.NewDense(u, len(c.columns), nil)
	c.through.Mul(inverse, gram)
	for _, m := range c.members {
		inner := make([]float64, m.width*m.width)
		for a := range m.width {
			for b := range m.width {
				row := q.gram.RawRowView(c.columns[m.at+a])
				sum := row[c.columns[m.at+b]]
				for i, v := range row[:u] {
					sum -= v * c.through.At(i, m.at+b)
				}
				inner[a*m.width+b] = sum
			}
		}
		c.inner = append(c.inner, inner)
	}
	return c
}

// add adds to the slopes what the crown has of them, and to the rows of by those of its parameters.
func (c *crownSlopes) add(s *slopes, by *mat.Dense) {
	n := len(c.params)
	working := make([][]float64, n) // of each parameter, what B_m P y is of the columns
	for k, m := range c.members {
		for a := range m.width {
			for b := range a + 1 {
				p := c.covs[m.cov].first + a*(a+1)/2 + b
				if working[p] == nil {
					working[p] = make([]float64, len(c.columns))
				}
				x, y := c.rest[m.at+a], c.rest[m.at+b]
				working[p][m.at+a] += y
				s.first[p] += c.inner[k][a*m.width+b] - x*y
				if a != b {
					working[p][m.at+b] += x
					s.first[p] += c.inner[k][b*m.width+a] - x*y
				}
			}
		}
	}
	for p, w := range working {
		if w == nil {
			continue
		}
		row := by.RawRowView(p)
		for j, v := range w {
			if v != 0 {
				floats.AddScaled(row, v, c.gram.RawRowView(c.columns[j])[:c.unknowns])
			}
		}
	}
	for p, w := range working {
		if w == nil {
			continue
		}
		for o := range n {
			if working[o] != nil && o > p { // once for two of the crown
				continue
			}
			sum := 0.0
			for j, v := range w {
				sum += v * by.At(o, c.columns[j])
			}
			s.average.SetSym(p, o, s.average.At(p, o)+sum)
		}
	}
}

// partSlopes are what the leaves of a block add to the slopes.
type partSlopes struct {
	params []int     // of the block, and last that of its variance of e
	first  []float64 // by parameter
	own    []float64 // yᵀP B_m V_L⁻¹ B_n P y, by rows, params x params
	by     []float64 // Tᵀ V_L⁻¹ B_m P y, by rows, params x crown
	curve  *partCurve
}

// slopesOf returns what a block adds, with the estimates and the inverse of the crown.
func (q *equations) slopesOf(b *block, crown []float64, inverse *mat.Dense, curved bool) *partSlopes {
	params := b.params
	if q.residuals > 0 {
		params = append(params[:len(params):len(params)], q.residual(b.kind))
	}
	n, size := len(params), len(b.crown)
	to := &partSlopes{params: params, first: make([]float64, n), own: make([]float64, n*n), by: make([]float64, n*size)}
	w := newWork(q, b, params, crown, inverse)
	if curved {
		to.curve = newPartCurve(n, size)
	}
	for _, k := range b.leaves {
		w.enter(&q.leaves[k])
		w.addRows()
		w.addFirst(to)
		if curved {
			w.addCurve(to.curve)
		}
	}
	return to
}
