package source_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/source"
)

// The limit that the documentation states: 64 MiB, and not a byte more.
func TestPictureSize(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.tif")
	require.NoError(t, os.WriteFile(path, nil, 0o644))
	for _, c := range []struct {
		bytes int64
		fault string
	}{
		{0, "the file is empty"},
		{1, ""},
		{64 << 20, ""},
		{64<<20 + 1, "the picture has 67108865 bytes, more than 64 MiB"},
	} {
		require.NoError(t, os.Truncate(path, c.bytes))
		data, err := source.ReadPicture(filepath.Dir(path), "p.tif")
		if c.fault == "" {
			require.NoError(t, err)
			assert.EqualValues(t, c.bytes, len(data))
			continue
		}
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		assert.Equal(t, path+": "+c.fault, err.Error())
	}
	_, err := source.ReadPicture(filepath.Dir(path), "p.tiff")
	assert.ErrorContains(t, err, "there is no such file")
}
