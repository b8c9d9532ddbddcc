package paper

import (
	"image/color"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/qr"
)

const (
	quietZone   = 4    // modules on each side
	leastModule = 0.33 // mm; four points of a printer of 300 to the inch: common practice, no source
)

// matrix is a two-dimensional code: dark and light modules, without the quiet zone.
type matrix struct {
	barcode.Barcode
	modules int // on a side
}

// encode makes the code of a text that is drawn with a side in mm, the quiet zone included.
func encode(text string, side float64) (m matrix, err error) {
	m.Barcode, err = qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return m, tooLong(text, side) // nothing else can be wrong
	}
	m.modules = m.Bounds().Dx()
	if m.module(side) < leastModule {
		return m, tooLong(text, side)
	}
	return m, nil
}

// module returns the length of a module.
func (m matrix) module(side float64) float64 { return side / float64(m.modules+2*quietZone) }

// runs hands each row of dark modules to draw: column and row of the first one, and their number.
func (m matrix) runs(draw func(x, y, n int)) {
	for y := range m.modules {
		for x := 0; x < m.modules; x++ {
			n := 0
			for x+n < m.modules && m.dark(x+n, y) {
				n++
			}
			if n > 0 {
				draw(x, y, n)
				x += n
			}
		}
	}
}

func (m matrix) dark(x, y int) bool {
	at := m.Bounds().Min
	return color.GrayModel.Convert(m.At(at.X+x, at.Y+y)).(color.Gray).Y < 128
}
