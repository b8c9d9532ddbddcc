package optics_test

import (
	"testing"

	"wane/optics"
)

func grid() []float64 {
	nm := make([]float64, 401)
	for i := range nm {
		nm[i] = 380 + 1.8*float64(i)
	}
	return nm
}

// 401 wavelengths of two films on soda-lime glass at 45 degrees.
func BenchmarkStackRT(b *testing.B) {
	s := optics.Stack{
		Films:     []optics.Film{film(1.22, 110), {Index: optics.FusedSilica(), ThicknessNM: 95}},
		Substrate: optics.SodaLime(),
	}
	nm := grid()
	R, T := make([]float64, len(nm)), make([]float64, len(nm))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := s.RT(R, T, nm, 45, optics.U); err != nil {
			b.Fatal(err)
		}
	}
}

// 401 wavelengths of a sheet coated on the front, at 45 degrees.
func BenchmarkPaneRT(b *testing.B) {
	p := optics.Pane{Films: []optics.Film{film(1.22, 110)}, Glass: optics.SodaLime(), GlassMM: 3.2, Back: optics.Bare}
	nm := grid()
	R, T := make([]float64, len(nm)), make([]float64, len(nm))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := p.RT(R, T, nm, 45, optics.U); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMixReal(b *testing.B) {
	for _, m := range rules {
		b.Run(m.String(), func(b *testing.B) {
			b.ReportAllocs()
			var sum float64
			for b.Loop() {
				eps, dP, dS := m.MixReal(2.1316, 1, 0.35)
				sum += eps + dP + dS
			}
			_ = sum
		})
	}
}
