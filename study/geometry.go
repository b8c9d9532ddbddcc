package study

import "slices"

// The geometries of readings, by what of the reflected light they collect. From a smooth film it all goes into the mirror
// direction.
const (
	SpecularGeometry = "specular"       // the mirror direction
	TotalIncluded    = "total_included" // a sphere: all of it, read at 8 degrees or so against a hemisphere
	TotalExcluded    = "total_excluded" // a sphere, with the mirror direction let out: what is scattered
	MixedGeometry    = "mixed"          // the mirror direction, and what is scattered within a half-angle of it
)

// Geometries returns the words of geometries.
func Geometries() []string {
	return []string{SpecularGeometry, TotalIncluded, TotalExcluded, MixedGeometry}
}

// Specular reports whether a geometry is that of the mirror direction only. A geometry that is
// not stated counts as specular.
func Specular(geometry string) bool { return geometry == "" || geometry == SpecularGeometry }

// BySphere reports whether a geometry is that of an integrating sphere.
func BySphere(geometry string) bool { return geometry == TotalIncluded || geometry == TotalExcluded }

// GeometryOf returns the geometry of a reading that states one, or none, on an instrument: where the reading states none
// it is the only one of the instrument, else specular. ok is false if the instrument is registered for others only.
func (i *Instrument) GeometryOf(stated string) (geometry string, ok bool) {
	geometry = stated
	switch {
	case geometry == "" && len(i.Geometries) == 1:
		geometry = i.Geometries[0]
	case geometry == "":
		geometry = SpecularGeometry
	}
	return geometry, len(i.Geometries) == 0 || slices.Contains(i.Geometries, geometry)
}
