package scenario

import (
	"sync"

	"wane/optics"
	"wane/optics/solar"
)

// What a thin film reflects is computed at a few nodes and interpolated: see [optics.Nodes]. The tests hold readings to
// 2e-6 and solar values to 1e-6 of a computation at each wavelength.
const (
	bandNodes = 20 // over the wavelengths of readings
	sunNodes  = 40 // over 300 to 2500 nm
)

// sun holds the wavelengths of nodes from 300 to 2500 nm, and the weights of the values there in a solar mean by energy
// (ASTM G173-03, global).
type sun struct{ nodes, weights []float64 }

// sunlight is made once and never changed.
var sunlight = sync.OnceValues(func() (*sun, error) {
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	if err != nil {
		return nil, err
	}
	b := optics.NewNodes(nm, sunNodes)
	return &sun{nodes: b.NM, weights: b.Weights(weights)}, nil
})
