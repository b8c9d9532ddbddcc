package scenario

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func BenchmarkMake(b *testing.B) {
	p, err := ReadPlan([]byte(Example()))
	require.NoError(b, err)
	b.ReportMetric(float64(p.Readings()), "readings")
	n := 0
	for b.Loop() {
		_, err := p.Make(n)
		require.NoError(b, err)
		n++
	}
}
