package film

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"wane/fit"
)

// Fitter fits spots of one setup one after the other. It keeps the tables that they share, those of each grid
// and angle. Two goroutines must not use it at once.
type Fitter struct {
	setup    Setup
	grids    []*grid
	layers   []*layer
	scans    []*scanTable
	names    map[settingKey]settingNames
	work     fit.Workspace
	columns  []float64 // scratch of the models
	products []float64
}

// settingKey is an angle setting, for reflectance or for transmittance.
type settingKey struct {
	angle   float64
	through bool
}

// settingNames are the names of the parameters of an angle setting.
type settingNames struct{ factor, capture, angle string }

// NewFitter returns a fitter for spots of the setup. It cannot fail: a fault of the setup is reported by
// [Fitter.Fit].
func NewFitter(setup Setup) *Fitter {
	return &Fitter{setup: setup, names: map[settingKey]settingNames{}}
}

// grid is one set of wavelengths at one angle, with its tables.
type grid struct {
	nm    []float64
	angle float64
	full  *view
	short []*compression // by level; nil where there is none
	tried []bool         // by level: whether short has been made
}

const keptGrids = 64 // number of grids, and of scan tables, at which all kept ones are dropped

// grid returns the tables for the wavelengths nm, in nm, at angle, in degrees.
func (f *Fitter) grid(nm []float64, angle float64) (*grid, error) {
	for _, g := range f.grids {
		if g.angle == angle && slices.Equal(g.nm, nm) {
			return g, nil
		}
	}
	if len(f.grids) == keptGrids {
		f.grids, f.layers, f.scans, f.names = nil, nil, nil, map[settingKey]settingNames{}
	}
	nm = slices.Clone(nm)
	full, err := newView(&f.setup, nm, angle, &f.layers, true)
	if err != nil {
		return nil, err
	}
	g := &grid{nm: nm, angle: angle, full: full, short: make([]*compression, len(compressions)),
		tried: make([]bool, len(compressions))}
	f.grids = append(f.grids, g)
	return g, nil
}

// compression returns the compression of g at a level, nil if there is none.
func (f *Fitter) compression(g *grid, level int) (*compression, error) {
	if !g.tried[level] {
		c, err := compress(&f.setup, g.full, g.angle, level, &f.layers)
		if err != nil {
			return nil, err
		}
		g.short[level], g.tried[level] = c, true
	}
	return g.short[level], nil
}

// fullModel returns the model of spot on the whole grids. sigma holds the noise of each curve, a fraction.
func (f *Fitter) fullModel(spot *Spot, sigma []float64) (*model, error) {
	m := f.newModel(spot, maxTau)
	for i := range spot.Curves {
		c := &spot.Curves[i]
		joins, _ := m.ofCurve(c)
		for _, p := range pieces(c.NM, joins) {
			g, err := f.grid(c.NM[p.from:p.to], c.AngleDeg)
			if err != nil {
				return nil, err
			}
			m.addPiece(c, i, &p, g.full, sigma[i])
		}
	}
	return f.finishModel(m), nil
}

// packedModel returns the compressed model of spot at a level, nil if a curve has no compression. sigma is as
// for fullModel.
func (f *Fitter) packedModel(spot *Spot, sigma []float64, level int) (*model, error) {
	m := f.newModel(spot, compressions[level].maxTau)
	for i := range spot.Curves {
		c := &spot.Curves[i]
		joins, _ := m.ofCurve(c)
		for _, p := range pieces(c.NM, joins) {
			g, err := f.grid(c.NM[p.from:p.to], c.AngleDeg)
			if err != nil {
				return nil, err
			}
			short, err := f.compression(g, level)
			if short == nil || err != nil {
				return nil, err
			}
			m.addPacked(c, i, &p, short, sigma[i])
		}
	}
	return f.finishModel(m), nil
}

func (f *Fitter) newModel(spot *Spot, tau float64) *model {
	return &model{noiseFactor: 1, spot: spot, joins: spot.joinsOf(), maxTau: tau, work: &f.work, scans: &f.scans,
		curves: make([]curve, 0, len(spot.Curves))}
}

// finishModel completes a model to which all pieces have been added.
func (f *Fitter) finishModel(m *model) *model {
	m.locate()
	longest := 0
	for k := range m.curves {
		longest = max(longest, len(m.curves[k].nm))
	}
	f.columns = slices.Grow(f.columns[:0], longest*(kinds+1))[:longest*(kinds+1)]
	f.products = slices.Grow(f.products[:0], kinds*(kinds+1))[:kinds*(kinds+1)]
	m.columns, m.curveCosts = f.columns, make([]float64, len(m.curves))
	m.products, m.right = f.products[kinds:], f.products[:kinds]
	for k, angle := range m.angles {
		key := settingKey{angle, m.throughs[k]}
		names, ok := f.names[key]
		if !ok {
			of := ""
			if key.through {
				of = "T_"
			}
			names = settingNames{fmt.Sprintf("%sfactor@%g", of, angle), fmt.Sprintf("%scapture@%g", of, angle),
				fmt.Sprintf("%sangle@%g", of, angle)}
			f.names[key] = names
		}
		m.names = append(m.names, names)
	}
	return m
}

// scanPoints is how many points of a curve the coarse model keeps.
const scanPoints = 40

// coarseModel returns the model of spot on at most scanPoints points of each curve. Each is the mean of size
// neighbours, with a noise of sigma/√size. It is used for scans where there is no compression.
func (f *Fitter) coarseModel(spot *Spot, sigma []float64) (*model, error) {
	short := *spot
	joins := spot.joinsOf()
	short.joins = &joins
	short.Curves = slices.Clone(spot.Curves)
	less := make([]float64, len(sigma))
	for k := range short.Curves {
		c := &short.Curves[k]
		size := (len(c.NM) + scanPoints - 1) / scanPoints
		less[k] = sigma[k] / math.Sqrt(float64(size))
		c.NM, c.R = blockMeans(c.NM, size), blockMeans(c.R, size)
	}
	return f.fullModel(&short, less)
}

// blockMeans returns the means of successive blocks of size values. A shorter rest at the end is dropped.
func blockMeans(v []float64, size int) []float64 {
	out := make([]float64, 0, len(v)/size)
	for ; len(v) >= size; v = v[size:] {
		out = append(out, stat.Mean(v[:size], nil))
	}
	return out
}

// Fit finds the film that explains the curves of spot, whose setup must be that of the fitter. spot is not
// changed; the verdict keeps it. An [*InputError] says what is wrong with the spot; an [*optics.RangeError]
// reports a wavelength outside the range of an index. If ctx is done, the error is that of ctx.
//
// Where the curves allow it, the fit uses compressed curves (surface_compress.go), else all points. The
// verdicts agree within the error of the compression. If no film that is thin enough for that explains the curves, films of
// all thicknesses are compared on a coarse grid.
func (f *Fitter) Fit(ctx context.Context, spot *Spot) (*Verdict, error) {
	if err := spot.check(); err != nil {
		return nil, err
	}
	spot, err := spot.selected()
	if err != nil {
		return nil, err
	}
	sigma, err := spot.noise()
	if err != nil {
		return nil, err
	}
	if err := spot.checkEnergy(sigma); err != nil {
		return nil, err
	}
	if spot.Loss != fit.Squares { // a robust loss needs every point, also those far from the fit
		return f.fitAllPoints(ctx, spot, sigma)
	}
	spot = spot.withoutSpikes(sigma)
	v, err := f.fitPoints(ctx, spot, sigma)
	if err != nil {
		return nil, err
	}
	return v, f.tryJoin(v, spot, sigma)
}

// fitPoints fits the points that were chosen of a spot by their squares.
func (f *Fitter) fitPoints(ctx context.Context, spot *Spot, sigma []float64) (*Verdict, error) {
	var short []*model        // compressed
	unexplained := math.NaN() // the optical thickness of a uniform film that does not explain the curves
	for level := range compressions {
		m, err := f.packedModel(spot, sigma, level)
		if err != nil {
			return nil, err
		}
		if m == nil {
			continue
		}
		short, m.coarse = append(short, m), m
		film, err := m.fitFilm(ctx)
		if err != nil {
			return nil, err
		}
		if math.Abs(film.x[pTau]-unexplained) < sameTau {
			continue
		}
		if ok, err := m.explains(ctx, film); err != nil {
			return nil, err
		} else if !ok {
			unexplained = film.x[pTau]
			continue
		}
		v, err := m.conclude(ctx, film)
		if err != nil || v.isWithinModel() {
			return v, err
		}
	}
	if short == nil {
		return f.fitAllPoints(ctx, spot, sigma)
	}
	return f.fitUnexplained(ctx, spot, sigma, short)
}

// fitAllPoints fits spot without compression.
func (f *Fitter) fitAllPoints(ctx context.Context, spot *Spot, sigma []float64) (*Verdict, error) {
	m, err := f.wholeModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	return m.fit(ctx)
}

// wholeModel returns the model of spot on the whole grids, with its coarse one.
func (f *Fitter) wholeModel(spot *Spot, sigma []float64) (*model, error) {
	m, err := f.fullModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	m.coarse, err = f.coarseModel(spot, sigma)
	return m, err
}

// fitUnexplained fits a spot that no film explains for which one of its compressed models, short, is valid. The coarse curves
// say which film of any thickness comes nearest to them. The first compressed model that is valid for that one takes the
// place of all points.
func (f *Fitter) fitUnexplained(ctx context.Context, spot *Spot, sigma []float64, short []*model) (*Verdict, error) {
	m, err := f.wholeModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	params := m.params(0)
	nearest, err := m.start(ctx, params)
	if err != nil {
		return nil, err
	}
	for _, short := range short {
		if nearest.x[pTau] >= nearlyMost*short.maxTau {
			continue
		}
		film, err := short.fitFilmFrom(ctx, params, nearest.x)
		if err != nil {
			return nil, err
		}
		v, err := short.conclude(ctx, film)
		if err != nil || v.isThinEnough() {
			return v, err
		}
	}
	film, err := m.fitFilmFrom(ctx, params, nearest.x)
	if err != nil {
		return nil, err
	}
	return m.conclude(ctx, film)
}

// sameTau is the difference of optical thickness, in nm, below which films of two models count as the same.
const sameTau = 0.01

// nearlyMost is the share of the largest optical thickness for which a model is valid up to which a film is within it.
const nearlyMost = 0.95

// Fit fits a single spot: see [Fitter.Fit].
func Fit(ctx context.Context, spot *Spot) (*Verdict, error) {
	return NewFitter(spot.Setup).Fit(ctx, spot)
}
