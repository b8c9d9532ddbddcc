package scenario

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study"
)

// Write makes the files and hands each to put, with its name, in which slashes part folders.
// It returns the truth. An error of put ends it. A second call on the same scenario draws
// other errors of measurement.
func (s *Scenario) Write(put func(name, text string) error) (Truth, error) {
	rosters := s.rosters()
	for _, name := range slices.Sorted(maps.Keys(rosters)) {
		if err := put(name, rosters[name]); err != nil {
			return nil, err
		}
	}
	truth, placing, checks := Truth{}, &strings.Builder{}, &strings.Builder{}
	placing.WriteString(mapHeader)
	checks.WriteString(checksHeader)
	for pull := range doses {
		measurement := s.measurement(pull)
		fmt.Fprintf(checks, "%s,tile-1,8,u,%.5f\n", measurement.session, measurement.scale*measurement.factors[0]*tile)
		for i := range s.coupons {
			c := &s.coupons[i]
			text, err := s.export(c, pull, measurement) // also where it is not there: the errors of the others stay
			if err != nil {
				return nil, err
			}
			if !c.isRead(pull) {
				continue
			}
			if err := c.addTruth(truth, pull); err != nil {
				return nil, err
			}
			addPlaces(placing, c, pull, measurement.session)
			if err := put(exportName(c, pull), text); err != nil {
				return nil, err
			}
		}
	}
	if err := put(checksName, checks.String()); err != nil {
		return nil, err
	}
	return truth, put(MapName, placing.String())
}

// addTruth adds the solar transmittance of the spots of a coupon at a pull.
func (c *coupon) addTruth(truth Truth, pull int) error {
	for k, spot := range spots {
		t, err := c.surface(k, pull).SolarT()
		if err != nil {
			return err
		}
		truth[study.Unit{Coupon: c.Coupon.Coupon, Pull: pull, Spot: spot, Condition: condition}] = t
	}
	return nil
}

// measurement is a session at the instrument with its errors, factors on what is read.
type measurement struct {
	session string
	scale   float64   // of all readings
	factors []float64 // by angle
}

func (s *Scenario) measurement(pull int) measurement {
	at := measurement{session: sessionOn(dates[pull]), scale: 1 + 0.006*s.rng.NormFloat64()}
	for range angles {
		at.factors = append(at.factors, 1+0.003*s.rng.NormFloat64())
	}
	return at
}

// exportName returns the name of a coupon's export at a pull.
func exportName(c *coupon, pull int) string {
	return fmt.Sprintf("exports/%s-pull%d.csv", c.Coupon.Coupon, pull)
}

// addPlaces adds the rows of the map for an export: a column for each spot and angle.
func addPlaces(placing *strings.Builder, c *coupon, pull int, session string) {
	column := 1
	for _, spot := range spots {
		for _, angle := range angles {
			column++
			fmt.Fprintf(placing, "%s,#%d,%s,%d,%s,%g,u,R,percent,%s,%s\n",
				exportName(c, pull), column, c.Coupon.Coupon, pull, spot, angle, session, condition)
		}
	}
}

// export returns the text of one export: all spots and angles of a coupon at a pull.
func (s *Scenario) export(c *coupon, pull int, at measurement) (string, error) {
	var b strings.Builder
	fmt.Fprintf(&b, "Made-up export of wane demo\nSession: %s\n\nWavelength (nm)", at.session)
	var columns [][]float64
	for k, spot := range spots {
		for i, angle := range angles {
			r, err := c.surface(k, pull).Reflectance(s.nm, angle)
			if err != nil {
				return "", err
			}
			for j := range r {
				r[j] = at.scale*at.factors[i]*r[j] + noise*s.rng.NormFloat64()
			}
			columns = append(columns, r)
			fmt.Fprintf(&b, ",spot %s %g deg %%R", spot, angle)
		}
	}
	b.WriteString("\n")
	for j, nm := range s.nm {
		fmt.Fprintf(&b, "%g", nm)
		for _, r := range columns {
			fmt.Fprintf(&b, ",%.4f", 100*r[j])
		}
		b.WriteString("\n")
	}
	return b.String(), nil
}
