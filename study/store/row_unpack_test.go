package store

import (
	"crypto/sha256"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// What a study keeps of a file unpacks to as many bytes as are recorded and no more,
// whatever a stranger packed into it.
func TestUnpackingIsBounded(t *testing.T) {
	compressor, err := zstd.NewWriter(nil)
	require.NoError(t, err)
	s, err := connect(filepath.Join(t.TempDir(), "s.wane"), "rwc")
	require.NoError(t, err)
	defer func() { require.NoError(t, s.disconnect()) }()
	for _, c := range []struct {
		holds, recorded int64
		fault           string
	}{
		{1000, 1000, ""},
		{0, 0, ""},
		{64 << 20, 1000, "it does not decompress to the 1000 bytes that are recorded"},
		{1001, 1000, "it does not decompress to the 1000 bytes that are recorded"},
		{1, 0, "it does not decompress to the 0 bytes that are recorded"},
		{999, 1000, "it decompresses to 999 bytes, and 1000 are recorded"},
		{1000, -1, "-1 bytes are no size of a file"},
		{1000, 1 << 40, "1099511627776 bytes are no size of a file"},
	} {
		data := make([]byte, c.holds)
		sum := sha256.Sum256(data)
		export := &Kept[study.Export]{Row: study.Export{SHA256: sum, Name: "e.csv", Size: c.recorded}, Number: 1}
		original := &Kept[study.Export]{Row: study.Export{Packed: compressor.EncodeAll(data, nil)}, Number: 1}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		got, err := s.decompress(export, original)
		runtime.ReadMemStats(&after)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(8<<20), "bytes held for %d, recorded %d", c.holds,
			c.recorded)
		if c.fault == "" {
			require.NoError(t, err)
			assert.Equal(t, len(data), len(got))
			continue
		}
		assert.ErrorContains(t, err, c.fault)
	}
}
