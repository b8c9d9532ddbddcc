package store_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/store"
)

func bits(x []float64) []uint64 {
	b := make([]uint64, len(x))
	for i, v := range x {
		b[i] = math.Float64bits(v)
	}
	return b
}

// Whatever is packed comes back bit for bit, over kinds of numbers as they occur
// and as they should not.
func TestPackKeepsEveryBit(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1)) // any seed
	anyBits := func() float64 {
		for {
			if v := math.Float64frombits(r.Uint64()); !math.IsNaN(v) && !math.IsInf(v, 0) {
				return v
			}
		}
	}
	kinds := map[string]func() float64{
		"percent with 4 decimals, nearest": func() float64 { return float64(r.IntN(1_000_000)) / 1e6 },
		"percent with 4 decimals, divided": func() float64 { return float64(r.IntN(1_000_000)) / 1e4 / 100 },
		"percent with 2 decimals, divided": func() float64 { return float64(r.IntN(10_000)) / 1e2 / 100 },
		"signed, 7 decimals":               func() float64 { return float64(r.IntN(20_000_000)-10_000_000) / 1e7 },
		"whole numbers":                    func() float64 { return float64(r.IntN(3000)) },
		"just below 2^53":                  func() float64 { return float64(1<<53 - 1 - r.IntN(1000)) },
		"above 2^53":                       func() float64 { return float64(1<<53 + 2*r.IntN(1000)) },
		"uniform":                          r.Float64,
		"any bits":                         anyBits,
		"denormal":                         func() float64 { return math.Float64frombits(r.Uint64N(1 << 52)) },
		"huge and tiny":                    func() float64 { return math.Ldexp(r.Float64()-0.5, r.IntN(2000)-1000) },
		"zeros of both signs":              func() float64 { return math.Copysign(0, r.Float64()-0.5) },
		"wavelengths from wavenumbers":     func() float64 { return 1e7 / (4000 + float64(r.IntN(20000))) },
		"extremes": func() float64 {
			return []float64{math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 1}[r.IntN(4)]
		},
	}
	for name, next := range kinds {
		t.Run(name, func(t *testing.T) {
			for range 300 {
				values := make([]float64, r.IntN(50))
				for i := range values {
					values[i] = next()
				}
				packed, err := store.Pack(values)
				require.NoError(t, err)
				// Never worse than plain: 8 bytes each and one for the form.
				require.LessOrEqual(t, len(packed), 1+8*len(values))
				back, err := store.Unpack(packed, len(values))
				require.NoError(t, err)
				require.Equal(t, bits(values), bits(back))
			}
		})
	}
}

func TestPackIsSmallForDecimals(t *testing.T) {
	for _, c := range []struct {
		name  string
		value func(i int) float64
	}{
		{"nearest to the decimal", func(i int) float64 { return float64(25000+i*i%4000) / 1e6 }},
		{"percent divided by 100", func(i int) float64 { return float64(25000+i*i%4000) / 1e4 / 100 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			values := make([]float64, 401)
			for i := range values {
				values[i] = c.value(i)
			}
			packed, err := store.Pack(values)
			require.NoError(t, err)
			// Differences below 8192 take two bytes, the first up to three; form and
			// exponent are one each.
			assert.LessOrEqual(t, len(packed), 2+3+2*400)
		})
	}
}

// Worked by hand: 0.25, 0.3, 0.28 are 25, 30, 28 hundredths; the differences 25,
// 5, -2 are 50, 10, 3 in zig-zag.
func TestPackedBytes(t *testing.T) {
	packed, err := store.Pack([]float64{0.25, 0.3, 0.28})
	require.NoError(t, err)
	assert.Equal(t, []byte{1, 2, 50, 10, 3}, packed)
}

func TestPackRefusesWhatIsNotFinite(t *testing.T) {
	for name, v := range map[string]float64{"NaN": math.NaN(), "plus infinity": math.Inf(1),
		"minus infinity": math.Inf(-1)} {
		t.Run(name, func(t *testing.T) {
			_, err := store.Pack([]float64{1, v, 2})
			assert.Error(t, err)
		})
	}
}

func TestUnpackRefusesWhatIsNotWhole(t *testing.T) {
	whole, err := store.Pack([]float64{0.25, 0.3, 0.28})
	require.NoError(t, err)
	floats, err := store.Pack([]float64{math.Pi, math.E})
	require.NoError(t, err)
	for _, c := range []struct {
		name string
		b    []byte
		n    int
	}{
		{"nothing", nil, 0}, {"a form alone", []byte{1}, 0}, {"an unknown form", []byte{9, 2, 50}, 1},
		{"an exponent too large", []byte{1, 23, 50}, 1}, {"cut off", whole[:4], 3}, {"too few", whole, 4},
		{"too many", whole, 2},
		{"a negative count", whole, -1}, {"floats cut off", floats[:len(floats)-1], 2}, {"floats, too few", floats, 3},
		{"a varint without end", []byte{1, 0, 0x80}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := store.Unpack(c.b, c.n)
			assert.Error(t, err)
		})
	}
}

// Whatever bytes come, unpacking neither panics nor gives another count, and what
// it gives packs again.
func FuzzUnpack(f *testing.F) {
	f.Add([]byte{1, 2, 50, 10, 3}, 3)
	f.Add([]byte{2, 4, 50, 10, 3}, 3)
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 8}, 1)
	f.Fuzz(func(t *testing.T, b []byte, n int) {
		values, err := store.Unpack(b, n)
		if err != nil {
			return
		}
		require.Len(t, values, n)
		packed, err := store.Pack(values)
		if err != nil {
			return // floats that are not finite, as only a forged file holds
		}
		back, err := store.Unpack(packed, n)
		require.NoError(t, err)
		require.Equal(t, bits(values), bits(back))
	})
}
