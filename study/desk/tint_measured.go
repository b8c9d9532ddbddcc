package desk

import (
	"errors"
	"fmt"
	"io"

	"wane/optics"
	"wane/optics/colour"
	"wane/study"
	"wane/study/tint"
)

// TintOfCamera is [tint.OfCamera]; a sheet that is none is refused.
func TintOfCamera(surface, sheet colour.RGB, light colour.Light, spread float64) (tint.Measured, error) {
	m, err := tint.OfCamera(surface, sheet, light, spread)
	return m, noSheet(err)
}

// TintOfPicture is [tint.FromPicture] of the picture of this name; one that cannot be used is refused.
func TintOfPicture(name string, picture io.ReadSeeker, surface, sheet tint.Area, light colour.Light, spread float64) (
	tint.Measured, error) {
	m, err := tint.FromPicture(picture, surface, sheet, light, spread)
	var fault *tint.PictureError
	if errors.As(err, &fault) {
		return m, &study.Refusal{File: name, Fault: fault.Fault, Try: fault.Try, Cause: err}
	}
	return m, noSheet(err)
}

// noSheet refuses what is no white sheet.
func noSheet(err error) error {
	var domain *optics.DomainError
	if !errors.As(err, &domain) {
		return err
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("what is named as the white sheet is none: a part of it is %.0f of 255, and it must be between 90 and 253",
			255*domain.Value),
		Try: "lay a sheet of white paper beside the coupon in the same light, and take a picture in which it is bright but " +
			"not blown out"}
}
