package desk

import (
	"errors"
	"io"

	"wane/optics/colour"
	"wane/study"
	"wane/study/tint"
)

// TintOfCamera is [tint.OfCamera]; what tells no tint is refused.
func TintOfCamera(surface, sheet colour.RGB, light colour.Light, spread float64) (tint.Measured, error) {
	m, err := tint.OfCamera(surface, sheet, light, spread)
	return m, ofPicture("", err)
}

// TintOfPicture is [tint.FromPicture] of the picture of this name; one that cannot be used is refused.
func TintOfPicture(name string, picture io.ReadSeeker, surface, sheet tint.Area, light colour.Light, spread float64) (
	tint.Measured, error) {
	m, err := tint.FromPicture(picture, surface, sheet, light, spread)
	return m, ofPicture(name, err)
}

// ofPicture is the refusal of a picture of this name.
func ofPicture(name string, err error) error {
	var fault *tint.PictureError
	if !errors.As(err, &fault) {
		return err
	}
	return &study.Refusal{File: name, Fault: fault.Fault, Try: fault.Try, Cause: err}
}
