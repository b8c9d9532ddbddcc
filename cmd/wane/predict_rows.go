package main

import (
	"fmt"
	"math"
	"strings"

	"wane/fit/film"
	"wane/optics/colour"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/shown"
)

// forecastRows prints one row for each film and angle.
type forecastRows struct {
	o       *predictOptions
	p       page
	records *records     // for programs
	table   *tableWriter // for people
}

// newRows returns what prints forecasts.
func (o *predictOptions) newRows(p page) *forecastRows {
	r := &forecastRows{o: o, p: p}
	if o.format != "table" {
		r.records = newRecords(p, o.format, []string{"thickness_nm", "porosity", "bare_fraction", "gradient", "skin_nm",
			"spread_nm", "angle_deg", "polarisation", "solar_T", "u_solar_T", "cell_T", "u_cell_T", "gain_pp", "u_gain_pp",
			"light", "L", "a", "b", "Y", "srgb", "least_reflectance", "least_nm", "roughness_nm"})
		return r
	}
	r.table = newTable(p, tableColumn{head: "thickness / nm", rank: 1}, tableColumn{head: "porosity", rank: 2},
		tableColumn{head: "bare", rank: 3}, tableColumn{head: "angle / deg", rank: 1}, tableColumn{head: "solar T / %", rank: 1},
		tableColumn{head: "cell T / %", rank: 3}, tableColumn{head: "gain / pp", rank: 1},
		tableColumn{head: "L* a* b*", rank: 2}, tableColumn{head: "screen", rank: 2},
		tableColumn{head: "least R / % at nm", rank: 2})
	return r
}

// write prints one film.
func (r *forecastRows) write(f *evaluate.Forecast) error {
	for i := range f.Sights {
		var err error
		if r.table != nil {
			err = r.tableRow(&f.Film, &f.Sights[i])
		} else {
			err = r.record(&f.Film, &f.Sights[i])
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *forecastRows) record(f *film.Sample, s *evaluate.Sight) error {
	cells := []any{}
	for _, v := range []float64{f.ThicknessNM, f.Porosity, f.Bare, f.Gradient, f.SkinNM, f.SpreadNM} {
		cells = append(cells, orNil(study.Num(v)))
	}
	cells = append(cells, s.AngleDeg, s.Polarisation)
	for _, m := range []study.Measure{s.SolarT, s.CellT, s.Gain} {
		cells = append(cells, orNil(m.Value), orNil(m.U))
	}
	if s.Coloured {
		cells = append(cells, r.o.light, s.Lab.L, s.Lab.A, s.Lab.B, s.Y, screenParts(s.Screen))
	} else {
		cells = append(cells, r.o.light, nil, nil, nil, nil, nil)
	}
	return r.records.Write(append(cells, s.Least, s.LeastNM, orNil(study.Num(f.RoughNM)))...)
}

func (r *forecastRows) tableRow(f *film.Sample, s *evaluate.Sight) error {
	lab, screen := "-", "-"
	if s.Coloured {
		lab, screen = labWords(s.Lab), shown.HexColour(s.Screen)
	}
	return r.table.row(decimal(study.Num(f.ThicknessNM), 1), decimal(study.Num(f.Porosity), 3), decimal(study.Num(f.Bare), 3),
		fmt.Sprintf("%g %s", s.AngleDeg, s.Polarisation), valueOf(s.SolarT, 100), valueOf(s.CellT, 100), valueOf(s.Gain, 1),
		lab, screen, fmt.Sprintf("%.3f at %g", 100*s.Least, s.LeastNM))
}

// labWords shows a colour with one decimal.
func labWords(c colour.Lab) string {
	tenth := func(v float64) float64 { return math.Round(10*v)/10 + 0 } // no -0
	return fmt.Sprintf("%.1f %.1f %.1f", tenth(c.L), tenth(c.A), tenth(c.B))
}

// valueOf shows a value with its expanded uncertainty, or alone with three decimals where it has none.
func valueOf(m study.Measure, factor float64) string {
	if m.U.Valid() {
		return plusMinus(m, factor, "")
	}
	return decimal(study.Num(factor)*m.Value, 3)
}

// screenParts writes a colour as its red, green and blue, 0 to 255.
func screenParts(c colour.RGB) string {
	return fmt.Sprintf("%.0f %.0f %.0f", 255*c.R, 255*c.G, 255*c.B)
}

// end completes the output.
func (r *forecastRows) end() error {
	if r.records != nil {
		return r.records.Close()
	}
	if err := r.table.end(); err != nil {
		return err
	}
	lines := []string{r.o.said(),
		"solar T, cell T and gain: of the front surface, unpolarised, at the angle of the row"}
	if !r.o.absorbing {
		lines = append(lines, losslessWords)
	}
	if r.o.fitOf != "" {
		lines = append(lines, "values ± U (k=2)")
	} else {
		lines = append(lines,
			"a stated film has no uncertainty: its values are as right as the model (wane help predicted-films)")
	}
	return writeLines(r.p, append(lines, "colour: of the curve under "+r.o.light+", CIE 1931 observer, relative to a "+
		"perfect white sheet; least R: between the ends of the curve")...)
}

// said says in a line what was predicted.
func (o *predictOptions) said() string {
	var stated []string
	for _, v := range []struct {
		name, unit string
		value      float64
	}{{"thickness", " nm", o.of.Film.ThicknessNM}, {"porosity", "", o.of.Film.Porosity}, {"bare fraction", "", o.of.Film.Bare},
		{"gradient", "", o.of.Film.Gradient}, {"skin", " nm", o.of.Film.SkinNM}, {"spread", " nm", o.of.Film.SpreadNM},
		{"roughness", " nm", o.of.Film.RoughNM}} {
		if !math.IsNaN(v.value) {
			stated = append(stated, fmt.Sprintf("%s %g%s", v.name, v.value, v.unit))
		}
	}
	if o.fitOf != "" {
		line := "from the fit of " + study.Shown(o.fitOf) + ", as its session reads it"
		if len(stated) > 0 {
			line += "; stated anew: " + strings.Join(stated, ", ")
		}
		return line
	}
	if len(stated) == 0 {
		return fmt.Sprintf("glass %s, far face %s", study.Shown(o.pane.glass), o.pane.farFace())
	}
	return fmt.Sprintf("stated: %s; glass %s, far face %s", strings.Join(stated, ", "), study.Shown(o.pane.glass),
		o.pane.farFace())
}
