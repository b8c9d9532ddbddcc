package evaluate

import (
	"fmt"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// GeometryError reports readings in a geometry that is not evaluated.
type GeometryError struct{ Geometry, Why string }

func (e *GeometryError) Error() string {
	return fmt.Sprintf("its geometry is %s: %s", e.Geometry, e.Why)
}

// geometryOf returns the geometry of a reading that states one, or none, under the conditions: see
// [study.Instrument.GeometryOf].
func (c *Conditions) geometryOf(stated string) (geometry string, ok bool) {
	return (&study.Instrument{Geometries: c.Geometries}).GeometryOf(stated)
}

// CheckGeometry refuses readings of one unit whose geometries are not evaluated, or not together, and states those of
// the others where only the register does. The cause of the refusal is a [*GeometryError].
func (c *Conditions) CheckGeometry(readings []study.Reading) error {
	beside := c.besideSphere(readings)
	for i := range readings {
		r := &readings[i]
		geometry, why := c.fault(r, beside)
		if why == "" {
			r.Geometry = geometry
			continue
		}
		return &study.Refusal{
			Fault: fmt.Sprintf("the reading of coupon %s at %g degrees cannot be evaluated", r.Coupon, r.AngleDeg),
			Try: fmt.Sprintf("evaluate the spot without it: wane review --aside --coupon %s --pull %d --spot %s --angle %g "+
				"--why TEXT",
				r.Coupon, r.Pull, r.Spot, r.AngleDeg),
			Cause: &GeometryError{geometry, why},
		}
	}
	return nil
}

// besideSphere returns the geometry of a reading that is not by a sphere, empty if there is none.
func (c *Conditions) besideSphere(readings []study.Reading) string {
	for i := range readings {
		if geometry, _ := c.geometryOf(readings[i].Geometry); !study.BySphere(geometry) {
			return geometry
		}
	}
	return ""
}

// fault says why a reading cannot be evaluated, empty if it can. beside is the geometry of a reading of its unit that is not
// by a sphere; empty: there is none.
func (c *Conditions) fault(r *study.Reading, beside string) (geometry, why string) {
	geometry, ok := c.geometryOf(r.Geometry)
	cone := c.Instrument.ConeDeg
	switch {
	case !ok:
		return geometry, "the instrument of session " + r.Session + " is not registered for it"
	case geometry == study.TotalExcluded:
		return geometry, "a smooth film reflects in the mirror direction only, which this geometry leaves out"
	case r.HalfAngleDeg.Is && r.HalfAngleDeg.Value < cone:
		return geometry, fmt.Sprintf("a half-angle of %g degrees does not collect all of a beam whose cone has %g",
			r.HalfAngleDeg.Value, cone)
	case study.BySphere(geometry) && beside != "":
		return geometry, "another reading of the spot is " + beside + ", and a sphere has a scale and a zero of its own"
	}
	return geometry, ""
}

// In returns the conditions of readings in a geometry: a sphere has more errors than a mirror accessory. What is stated of
// its zero, and of its scale by check standards, counts as that of the sphere; the certificate of a reference knows nothing
// of the port.
func (c Conditions) In(stated string) Conditions {
	geometry, _ := c.geometryOf(stated)
	if !study.BySphere(geometry) {
		return c
	}
	known := film.DefaultSession()
	if c.UScale > 0 {
		known.UScale = c.UScale
	}
	sphere, by := known.InSphere(), "geometry "+geometry
	c.UScale, c.Stated = 0, slices.Clone(c.Stated)
	for _, o := range []Override{{"scale", 1, sphere.UScale, by}, {"zero", 0, sphere.UZero, by}} {
		if !slices.ContainsFunc(c.Stated, func(s Override) bool { return s.Effect == o.Effect }) {
			c.Stated = append(c.Stated, o)
		}
	}
	return c
}

// mixGeometries reports whether some units of a session were read by a sphere and some not.
func mixGeometries(units []SessionUnit) bool {
	bySphere := func(u SessionUnit) bool { return study.BySphere(u.Readings[0].Geometry) }
	return slices.ContainsFunc(units, func(u SessionUnit) bool { return bySphere(u) != bySphere(units[0]) })
}
