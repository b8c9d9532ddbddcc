package tint

import (
	"fmt"
	"math"

	"wane/optics/colour"
)

// PictureError says what is wrong with a picture, or with what a camera saw.
type PictureError struct{ Fault, Try string }

func (e *PictureError) Error() string { return e.Fault }

// What a camera can tell, of full scale: above the first a part is clipped (of 255 levels the last one), and a white sheet below
// the second is none.
const clipped, dark = 0.996, 0.35

// level is the standard deviation of rounding to one of 255 levels.
const level = 1 / (255 * 3.4641016151377544) // √12

// OfCamera returns a tint by what a camera saw of the surface and of a white sheet in one picture: sRGB values, 0 to 1. What
// the camera takes for white cancels. To the spread is added, in squares, what rounding to 255 levels makes, which counts
// where the surface is dark.
//
// A sheet that is clipped (a part of 0.996 or more) or dark (less than 0.35), and a surface that is clipped or black, are a
// [*PictureError].
func OfCamera(surface, sheet colour.RGB, light colour.Light, spread float64) (Measured, error) {
	for _, v := range []float64{sheet.R, sheet.G, sheet.B} {
		if !(v >= dark && v < clipped) {
			return Measured{}, &PictureError{fmt.Sprintf("what is named as the white sheet is none: a part of it is %.0f of 255, "+
				"and it must be between 90 and 253", 255*v), "lay a sheet of white paper beside the coupon in the same light, and take a " +
				"picture in which it is bright but not blown out"}
		}
	}
	if most := max(surface.R, surface.G, surface.B); !(most > 0 && most < clipped) {
		return Measured{}, &PictureError{fmt.Sprintf("the surface is black or blown out: its brightest part is %.0f of 255, and it "+
			"must be between 1 and 253", 255*most), "take a picture in which the surface is bright enough and mirrors no lamp"}
	}
	seen := func(c colour.RGB) colour.XYZ {
		of, white := c.Linear(), sheet.Linear()
		return colour.LinearXYZ(of.R/white.R, of.G/white.G, of.B/white.B).Adapted(colour.ScreenWhite(), light.White())
	}
	m := Measured{Seen: seen(surface)}
	squares := spread * spread
	for _, shifted := range []colour.RGB{{R: surface.R + level, G: surface.G, B: surface.B},
		{R: surface.R, G: surface.G + level, B: surface.B}, {R: surface.R, G: surface.G, B: surface.B + level}} {
		d := differenceOfTint(seen(shifted), m.Seen, light)
		squares += d * d
	}
	m.Spread = math.Sqrt(squares)
	return m, nil
}

// differenceOfTint returns how different two tints look in so much light that both have the same lightness, in which colours
// are told apart well.
func differenceOfTint(a, b colour.XYZ, light colour.Light) float64 {
	const lightness = 60
	white := light.White()
	bright := func(c colour.XYZ) colour.Lab { return c.Times(colour.Lab{L: lightness}.XYZ(white).Y / c.Y).Lab(white) }
	return colour.Difference(bright(a), bright(b))
}
