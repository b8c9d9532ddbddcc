package intake_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// madeUpExport writes a made-up export of coupon G07: rows wavelengths from 350
// nm on in steps of 1 nm, one column per angle, percent with four decimals.
func madeUpExport(rows, columns int) []byte {
	var b strings.Builder
	b.WriteString("Instrument: made up\nSample: G07\nwavelength (nm)")
	for c := range columns {
		fmt.Fprintf(&b, ",R %d deg (%%)", 8+15*c)
	}
	b.WriteString("\n")
	for i := range rows {
		fmt.Fprintf(&b, "%.1f", 350+float64(i))
		for c := range columns {
			fmt.Fprintf(&b, ",%.4f", 3+float64(c)+1.5*math.Sin(float64(i)/60+float64(c)))
		}
		b.WriteString("\n")
	}
	return []byte(b.String())
}

func BenchmarkRead(b *testing.B) {
	data := madeUpExport(401, 5)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		export, err := intake.Read("made-up.csv", data, text.Stated{})
		if err != nil || len(export.Spectra) != 5 {
			require.NoError(b, err)
			require.Len(b, export.Spectra, 5)
		}
	}
}
