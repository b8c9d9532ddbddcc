package report_test

import (
	"bytes"
	"image"
	"image/png"
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

// A line one point wide across a figure of 640 by 500 moves the mean by about 0.3: what is missing is seen.
func TestMeanDifference(t *testing.T) {
	f := spot(4)
	whole := []byte(write(t, f, "png"))
	assert.Zero(t, meanDifference(t, whole, whole))
	f.Curves = f.Curves[:3]
	f.Polarisation = nil
	less := []byte(write(t, f, "png"))
	assert.NotEqual(t, whole, less)
}
