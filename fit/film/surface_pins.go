package film

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
)

// Pins holds parameters at stated values, by name: thickness (nm), porosity,
// index (of the film at 550 nm), bare, scale.
type Pins map[string]float64

// The names of the parameters that verdicts report and that can be pinned.
const (
	Thickness = "thickness"
	Porosity  = "porosity"
	FilmIndex = "index"
	Bare      = "bare"
	Scale     = "scale"
)

// ParsePins reads words of the form NAME=VALUE.
func ParsePins(words []string) (Pins, error) {
	pins := Pins{}
	for _, w := range words {
		name, text, ok := strings.Cut(w, "=")
		if !ok {
			return nil, &InputError{"pins", fmt.Sprintf("%q is not of the form NAME=VALUE", w), "write for example bare=0"}
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, &InputError{"pins", fmt.Sprintf("%q in %q is not a number", text, w), "write for example bare=0"}
		}
		if _, known := pinRange[name]; !known {
			return nil, &InputError{"pins", fmt.Sprintf("there is no parameter %q to fix", name),
				"fix one of thickness, porosity, index, bare, scale"}
		}
		if old, twice := pins[name]; twice && old != v {
			return nil, &InputError{"pins", fmt.Sprintf("%s is fixed at both %g and %g", name, old, v), "fix it once"}
		}
		pins[name] = v
	}
	return pins, nil
}

// pinRange holds the values a pin may take; the index is bounded by the skeleton
// too. They are the bounds of the fit.
var pinRange = map[string][2]float64{
	Thickness: {1, 5000},
	Porosity:  {0, maxPorosity},
	FilmIndex: {1, 2},
	Bare:      {0, 1},
	Scale:     {minScale, maxScale},
}

// Check reports a pin out of range, or pins that contradict one another.
func (p Pins) Check(c Coating) error {
	for _, name := range p.names() {
		v, r := p[name], pinRange[name]
		if name == FilmIndex {
			r[0], r[1] = c.indexRange()
		}
		if !(v >= r[0] && v <= r[1]) {
			return &InputError{"pins", fmt.Sprintf("%s=%g is outside %.4g to %.4g", name, v, r[0], r[1]),
				"fix it inside that range"}
		}
	}
	_, porosity := p[Porosity]
	_, index := p[FilmIndex]
	_, thickness := p[Thickness]
	if porosity && index {
		return &InputError{"pins", "porosity and index are fixed together, but one gives the other through the mixing " +
			"rule", "fix one of the two"}
	}
	if bare, ok := p[Bare]; ok && bare == 1 && (porosity || index || thickness) {
		return &InputError{"pins", "bare=1 says that there is no film, yet its thickness, porosity or index is fixed too",
			"fix either bare=1 or the film"}
	}
	return nil
}

func (p Pins) names() []string {
	names := make([]string, 0, len(p))
	for n := range p {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}
