package report_test

import (
	"bytes"
	"flag"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// meanDifference returns the mean difference of grey, 0 to 255, between two PNG of one size, give or take a pixel.
func meanDifference(t *testing.T, a, b []byte) float64 {
	t.Helper()
	one, two := picture(t, a), picture(t, b)
	width, height := min(one.Bounds().Dx(), two.Bounds().Dx()), min(one.Bounds().Dy(), two.Bounds().Dy())
	require.InDelta(t, one.Bounds().Dx(), two.Bounds().Dx(), 1)
	require.InDelta(t, one.Bounds().Dy(), two.Bounds().Dy(), 1)
	sum := 0.0
	for y := range height {
		for x := range width {
			d := grey(one, x, y) - grey(two, x, y)
			sum += max(d, -d)
		}
	}
	return sum / float64(width*height)
}

func picture(t *testing.T, file []byte) image.Image {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(file))
	require.NoError(t, err)
	return img
}

func grey(img image.Image, x, y int) float64 {
	r, g, b, _ := img.At(x, y).RGBA()
	return (0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b)) / 257
}

// What is missing is seen: a figure in which one of four curves hides behind another differs by more than is allowed
// below.
func TestMeanDifference(t *testing.T) {
	f := spot(4)
	whole := []byte(write(t, f, "png"))
	assert.Zero(t, meanDifference(t, whole, whole))
	angle := f.Curves[3].AngleDeg
	f.Curves[3] = f.Curves[2] // it is hidden behind the third
	f.Curves[3].AngleDeg = angle
	assert.Greater(t, meanDifference(t, whole, []byte(write(t, f, "png"))), 1.0)
}

var update = flag.Bool("update", false, "write the images of testdata: look at them")

// Figures are as they were when somebody looked at them: the mean difference of grey is below one of 255. A missing
// curve or a moved panel is above it, and another version of a library that smooths edges is below.
func TestFiguresAsStored(t *testing.T) {
	for name, f := range map[string]figure{
		"pulls": pulls(12, 2), "sunlight": sunlight(), "levels": levels(), "budget": budget(), "fit": spot(2),
		"changes": threeUnits(), "characteristic": characteristic(), "differences": madeDifferences(), "sessions": sessions(),
	} {
		got := []byte(write(t, f, "png"))
		path := filepath.Join("testdata", name+".png")
		if *update {
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(path, got, 0o644))
			continue
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Less(t, meanDifference(t, want, got), 1.0,
			"%s: go test ./study/report -run AsStored -update, if it is meant", name)
	}
}
