package lifetime

import (
	"math"
	"slices"
)

// Step is a share of lives that ended after After and by By; lives do not say where between.
type Step struct{ After, By, Share float64 }

// Turnbull returns the shares of most likelihood where no law is assumed: of the intervals that begin with a look after
// which some life ended and end with the next look by which one had. What ends never, as far as the lives say, has an
// infinite By. Lives that are no lives give a [*ProblemError].
func Turnbull(lives []Life) ([]Step, error) {
	if err := check(lives); err != nil || len(lives) == 0 {
		return nil, err
	}
	steps := innermost(lives)
	different := count(lives)
	holds := make([][]int, len(different)) // the steps inside each life
	for i, l := range different {
		for k, s := range steps {
			if l.After <= s.After && s.By <= l.By && (l.After < l.By || s.After == s.By) {
				holds[i] = append(holds[i], k)
			}
		}
	}
	for k := range steps {
		steps[k].Share = 1 / float64(len(steps))
	}
	next := make([]float64, len(steps))
	for range 100000 { // self-consistency: each life is shared out by the shares before
		clear(next)
		for i, inside := range holds {
			sum := 0.0
			for _, k := range inside {
				sum += steps[k].Share
			}
			for _, k := range inside {
				next[k] += steps[k].Share / sum * different[i].n / float64(len(lives))
			}
		}
		moved := 0.0
		for k := range steps {
			moved = max(moved, math.Abs(next[k]-steps[k].Share))
			steps[k].Share = next[k]
		}
		if moved < 1e-13 {
			break
		}
	}
	return slices.DeleteFunc(steps, func(s Step) bool { return s.Share < 1e-10 }), nil
}

// innermost returns the intervals between a beginning and an end with neither in between. An exact life is one of
// length 0.
func innermost(lives []Life) (steps []Step) {
	type mark struct {
		at    float64
		order int // at one time: ends of intervals, then exact lives, then beginnings
		begin bool
	}
	var marks []mark
	for _, l := range lives {
		if l.After == l.By {
			marks = append(marks, mark{l.By, 1, true}, mark{l.By, 2, false})
			continue
		}
		marks = append(marks, mark{l.After, 3, true}, mark{l.By, 0, false})
	}
	slices.SortFunc(marks, func(a, b mark) int {
		switch {
		case a.at < b.at || a.at == b.at && a.order < b.order:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	for i := 1; i < len(marks); i++ {
		if marks[i-1].begin && !marks[i].begin {
			steps = append(steps, Step{After: marks[i-1].at, By: marks[i].at})
		}
	}
	return steps
}
