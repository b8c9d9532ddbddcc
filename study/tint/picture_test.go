package tint_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics/colour"
	"wane/study/tint"
)

// painted is a picture of a surface on the left and a sheet on the right.
func painted(t *testing.T, surface, sheet color.NRGBA, uneven uint8) *bytes.Reader {
	t.Helper()
	p := image.NewNRGBA(image.Rect(0, 0, 80, 40))
	for x := range 80 {
		for y := range 40 {
			c := sheet
			if x < 40 {
				if c = surface; x < 20 {
					c.B += uneven
				}
			}
			p.SetNRGBA(x, y, c)
		}
	}
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, p))
	return bytes.NewReader(out.Bytes())
}

// A picture says what its values say, and its spread is at least that of the surface.
func TestFromPicture(t *testing.T) {
	left, right := tint.Area{X: 0, Y: 0, Width: 40, Height: 40}, tint.Area{X: 42, Y: 2, Width: 30, Height: 30}
	dark, white := color.NRGBA{R: 61, G: 70, B: 120, A: 255}, color.NRGBA{R: 230, G: 228, B: 221, A: 255}
	want, err := tint.OfCamera(colour.RGB{R: 61. / 255, G: 70. / 255, B: 120. / 255},
		colour.RGB{R: 230. / 255, G: 228. / 255, B: 221. / 255}, colour.D65, 2)
	require.NoError(t, err)
	got, err := tint.FromPicture(painted(t, dark, white, 0), left, right, colour.D65, 2)
	require.NoError(t, err)
	assert.InDelta(t, want.Seen.X, got.Seen.X, 1e-9)
	assert.InDelta(t, want.Seen.Z, got.Seen.Z, 1e-9)
	assert.InDelta(t, want.Spread, got.Spread, 1e-12)
	assert.InDelta(t, 2, got.Spread, 0.1, "rounding to levels matters little here")
	uneven, err := tint.FromPicture(painted(t, dark, white, 60), left, right, colour.D65, 2)
	require.NoError(t, err)
	assert.Greater(t, uneven.Spread, 3.)

	var wrong *tint.PictureError
	_, err = tint.FromPicture(painted(t, dark, dark, 0), left, right, colour.D65, 2)
	require.ErrorAs(t, err, &wrong)
	assert.Contains(t, wrong.Fault, "white sheet is none: a part of it is 61 of 255")
	for _, a := range []tint.Area{{X: 60, Width: 40, Height: 4}, {X: -1, Width: 10, Height: 10}, {Width: 1, Height: 10},
		{X: 1 << 62, Width: 1 << 62, Height: 4}} {
		_, err = tint.FromPicture(painted(t, dark, white, 0), a, right, colour.D65, 2)
		assert.ErrorAs(t, err, &wrong, "%v", a)
	}
	_, err = tint.FromPicture(bytes.NewReader([]byte("no picture")), left, right, colour.D65, 2)
	assert.ErrorAs(t, err, &wrong)
	broken := painted(t, dark, white, 0)
	half := make([]byte, broken.Len()/2)
	_, err = broken.Read(half)
	require.NoError(t, err)
	_, err = tint.FromPicture(bytes.NewReader(half), left, right, colour.D65, 2)
	assert.ErrorAs(t, err, &wrong)
	_, err = tint.FromPicture(painted(t, color.NRGBA{A: 255}, white, 0), left, right, colour.D65, 2)
	require.ErrorAs(t, err, &wrong)
	assert.Contains(t, wrong.Fault, "the surface is black or blown out: its brightest part is 0 of 255")
}
