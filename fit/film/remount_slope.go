package film

// slopeStep is half the difference of angles, in degrees, by which TiltSlopes takes derivatives. For films up to 1 µm,
// from 8 to 85 degrees, it costs less than 1e-5 of the largest slope (Fresnel's equations in NumPy).
const slopeStep = 0.02

// TiltSlopes returns the derivative of the fitted reflectance by a tilt that all angles of incidence have in common,
// for each curve and each of its wavelengths, as fractions per degree. curves are those that were fitted, of which only
// wavelengths, angles and polarisation count. Scale, factors, the far face and the beam are in it.
//
// It is taken by differences of 0.02 degrees to both sides; below that angle it is that at the angle itself.
func (v *Verdict) TiltSlopes(curves []Curve) ([][]float64, error) {
	out := make([][]float64, len(curves))
	tilted := func(sign float64) error {
		spot := *v.model.spot
		spot.Curves = make([]Curve, len(curves))
		ones := make([]float64, len(curves))
		for k, c := range curves {
			spot.Curves[k], ones[k] = c, 1
			spot.Curves[k].R = make([]float64, len(c.NM)) // so that the residuals are the fitted values
			spot.Curves[k].AngleDeg += sign * min(slopeStep, c.AngleDeg)
		}
		m, err := NewFitter(spot.Setup).fullModel(&spot, ones)
		if err != nil {
			return err
		}
		fitted := make([]float64, m.rows)
		m.residuals(fitted, v.chosen.x)
		at := 0
		for k, c := range curves {
			if out[k] == nil {
				out[k] = make([]float64, len(c.NM))
			}
			if step := min(slopeStep, c.AngleDeg); step > 0 {
				for i := range out[k] {
					out[k][i] += sign * fitted[at+i] / (2 * step)
				}
			}
			at += len(c.NM)
		}
		return nil
	}
	if err := tilted(1); err != nil {
		return nil, err
	}
	return out, tilted(-1)
}
