package tint

import (
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // pictures may be JPEG
	_ "image/png"  // or PNG
	"io"
	"math"

	"wane/optics/colour"
)

// Area is a rectangle of a picture, in pixels from its upper left corner.
type Area struct{ X, Y, Width, Height int }

// mostPixels is the largest picture that is read.
const mostPixels = 100_000_000

// FromPicture returns the tint of a surface from areas of the surface and of a white sheet in one picture, PNG or JPEG, whose
// values are taken to be sRGB. The spread is the larger of that of [OfCamera] and that between parts of the surface. What
// cannot be read is a [*PictureError].
func FromPicture(r io.ReadSeeker, surface, sheet Area, light colour.Light, spread float64) (Measured, error) {
	size, format, err := image.DecodeConfig(r)
	switch {
	case errors.Is(err, image.ErrFormat) || err == nil && format != "png" && format != "jpeg":
		return Measured{}, &PictureError{"it is no picture in PNG or JPEG", "save it as one of them"}
	case err != nil:
		return Measured{}, &PictureError{"the begin of the picture is damaged, or says that it has no pixels or too many", "save it anew"}
	}
	if size.Width*size.Height > mostPixels || size.Width <= 0 || size.Height <= 0 {
		return Measured{}, &PictureError{fmt.Sprintf("the picture has %d by %d pixels, and 100 million are the most", size.Width, size.Height),
			"make it smaller"}
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return Measured{}, err
	}
	picture, _, err := image.Decode(r)
	if err != nil {
		return Measured{}, &PictureError{"the picture breaks off or is damaged", "save it anew"}
	}
	for what, a := range []Area{surface, sheet} {
		if a.X < 0 || a.Y < 0 || a.Width < parts || a.Height < parts || a.X > size.Width-a.Width || a.Y > size.Height-a.Height {
			return Measured{}, &PictureError{fmt.Sprintf("the area of %s, %d,%d,%d,%d, does not lie in the picture of %d by %d pixels", areaNames[what],
				a.X, a.Y, a.Width, a.Height, size.Width, size.Height), "write x,y,width,height in pixels from the upper left corner, 4 pixels or more each way"}
		}
	}
	mean := meanOf(picture, sheet)
	m, err := OfCamera(meanOf(picture, surface), mean, light, spread)
	if err != nil {
		return m, err
	}
	var squares float64
	for i := range parts * parts {
		part := Area{surface.X + i%parts*(surface.Width/parts), surface.Y + i/parts*(surface.Height/parts), surface.Width / parts,
			surface.Height / parts}
		one, err := OfCamera(meanOf(picture, part), mean, light, spread)
		if err != nil {
			return m, err
		}
		d := differenceOfTint(one.Seen, m.Seen, light)
		squares += d * d
	}
	m.Spread = max(m.Spread, math.Sqrt(squares/(parts*parts)))
	return m, nil
}

// areaNames are those of the areas of a picture, in their order.
var areaNames = [2]string{"the surface", "the white sheet"}

// parts is into how many the surface is cut each way, to see how even it is.
const parts = 4

// meanOf returns the mean light of an area as a colour.
func meanOf(picture image.Image, a Area) colour.RGB {
	var sum colour.RGB
	origin := picture.Bounds().Min
	for y := range a.Height {
		for x := range a.Width {
			r, g, b, _ := picture.At(origin.X+a.X+x, origin.Y+a.Y+y).RGBA()
			l := colour.RGB{R: float64(r) / 0xFFFF, G: float64(g) / 0xFFFF, B: float64(b) / 0xFFFF}.Linear()
			sum.R, sum.G, sum.B = sum.R+l.R, sum.G+l.G, sum.B+l.B
		}
	}
	n := float64(a.Width * a.Height)
	return colour.RGB{R: sum.R / n, G: sum.G / n, B: sum.B / n}.Encoded()
}
