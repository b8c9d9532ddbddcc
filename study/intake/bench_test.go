package intake_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

func BenchmarkRead(b *testing.B) {
	data := texttest.Export(401, 5)
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
