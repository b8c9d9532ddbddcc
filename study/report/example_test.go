package report_test

import (
	"bytes"
	"fmt"
	"math"

	"wane/study/report"
)

// The change of a made-up coating against dose, drawn twice: equal figures give equal bytes.
func ExampleChanges_Write() {
	figure := report.Changes{Title: "Change of solar transmittance", Caption: []string{"Made-up data."},
		Series: []report.Series{{
			Name: "coating-A", DoseUnit: "days", Points: []report.Point{
				{Dose: 0, Mean: 0, Lo: math.NaN(), Hi: math.NaN()}, // no interval
				{Dose: 365, Mean: -0.48, Lo: -0.72, Hi: -0.24},
			},
		}}}
	var first, again bytes.Buffer
	for _, svg := range []*bytes.Buffer{&first, &again} {
		if err := figure.Write(svg, "svg"); err != nil {
			fmt.Println(err)
			return
		}
	}
	fmt.Println(bytes.Contains(first.Bytes(), []byte("<svg")), bytes.Equal(first.Bytes(), again.Bytes()))
	// Output: true true
}
