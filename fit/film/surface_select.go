package film

import (
	"fmt"
	"math"
	"slices"
)

// selected returns the spot without the points inside its masks, or the spot itself if it
// has no mask. The original is not changed.
func (s *Spot) selected() (*Spot, error) {
	if len(s.Masks) == 0 {
		return s, nil
	}
	for _, w := range s.Masks {
		if !(w.LoNM <= w.HiNM) {
			return nil, &InputError{"mask", fmt.Sprintf("%g to %g nm is no range", w.LoNM, w.HiNM),
				"give the shorter wavelength first"}
		}
	}
	drop := make([][]int, len(s.Curves))
	for i := range s.Curves {
		c := &s.Curves[i]
		drop[i] = s.maskedPoints(c)
		if rest := len(c.NM) - len(drop[i]); rest < minPoints {
			return nil, &InputError{fmt.Sprintf("curve %d", i+1), fmt.Sprintf("the masks leave %d of its %d points; at "+
				"least %d are needed", rest, len(c.NM), minPoints),
				"mask less, or leave the curve out"}
		}
	}
	return s.withoutPoints(drop), nil
}

// withoutSpikes returns the spot without spikes, given the noise of its curves.
func (s *Spot) withoutSpikes(sigma []float64) *Spot {
	drop := make([][]int, len(s.Curves))
	for i := range s.Curves {
		drop[i] = s.Curves[i].spikePoints(sigma[i])
	}
	out := s.withoutPoints(drop)
	if out != s {
		out.spikes = true
	}
	return out
}

// withoutPoints returns the spot without the points to drop of each curve.
func (s *Spot) withoutPoints(drop [][]int) *Spot {
	out := s
	for i, points := range drop {
		if len(points) == 0 {
			continue
		}
		if out == s {
			copied := *s
			copied.Curves = slices.Clone(s.Curves)
			out = &copied
		}
		out.leftOut += len(points)
		c := &out.Curves[i]
		c.NM, c.R = removeAt(c.NM, points), removeAt(c.R, points)
	}
	return out
}

// maskedPoints returns the points of c inside a mask.
func (s *Spot) maskedPoints(c *Curve) (points []int) {
	for i, nm := range c.NM {
		if slices.ContainsFunc(s.Masks, func(w Window) bool { return nm >= w.LoNM && nm <= w.HiNM }) {
			points = append(points, i)
		}
	}
	return points
}

func removeAt(v []float64, drop []int) []float64 {
	out := make([]float64, 0, len(v)-len(drop))
	for i, x := range v {
		if _, is := slices.BinarySearch(drop, i); !is {
			out = append(out, x)
		}
	}
	return out
}

// A point is a spike if it is more than spikeNoise standard deviations of the noise away
// from the line through its neighbours, and if each neighbour is within quietNoise of the
// line through the points beside it without the spike. At most spikeShare of the points of
// a curve are spikes. If there are more, the curve is rough and keeps all its points.
const (
	spikeNoise = 8.0
	quietNoise = 4.0
	spikeShare = 0.02
)

// spikePoints returns the points that stick out of a curve that is smooth around them.
func (c *Curve) spikePoints(noise float64) (points []int) {
	nm, r := c.NM, c.R
	rough := 0
	for i := 2; i+2 < len(r); i++ {
		middle := 0.5 * (r[i-1] + r[i+1]) // nearly the line through them
		if math.Abs(r[i]-middle) <= math.Abs(r[i+1]-r[i-1])+spikeNoise*noise {
			continue
		}
		here := lineAt(nm[i], nm[i-1], nm[i+1], r[i-1], r[i+1])
		before := lineAt(nm[i-1], nm[i-2], nm[i+1], r[i-2], r[i+1])
		after := lineAt(nm[i+1], nm[i-1], nm[i+2], r[i-1], r[i+2])
		if math.Abs(r[i]-here) > spikeNoise*noise && math.Abs(r[i-1]-before) <= quietNoise*noise &&
			math.Abs(r[i+1]-after) <= quietNoise*noise {
			points = append(points, i)
		} else if math.Abs(r[i]-here) > spikeNoise*noise {
			rough++
		}
	}
	// A spike makes its two neighbours rough as well. More rough points than that belong to
	// a curve that bends, such as fringes on a coarse grid.
	if float64(len(points)) > max(1, spikeShare*float64(len(r))) || rough > 2*len(points)+2 {
		return nil
	}
	return points
}

// lineAt returns the value at x of the line through (x0, y0) and (x1, y1).
func lineAt(x, x0, x1, y0, y1 float64) float64 { return y0 + (y1-y0)*(x-x0)/(x1-x0) }
