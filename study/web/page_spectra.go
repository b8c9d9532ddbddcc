package web

import (
	"fmt"
	"io"
	"slices"
	"strconv"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
	"wane/study/table"
)

// spectraPage is the readings of a coupon, and which of them are drawn.
type spectraPage struct {
	Coupon               string
	Spot, Angle, Pull    string // what is chosen; empty: all
	Spots, Angles, Pulls []string
	Figure               figure
	Readings             *grid
	Figures              []entry
	chosen               []desk.Spectrum
}

// spectra is the page of the readings of a coupon.
func (s *Server) spectra(q *request) (answer, error) {
	code := q.PathValue("coupon")
	p, err := s.chooseSpectra(q, code)
	if err != nil {
		return nil, absent(err)
	}
	return &view{Name: "spectra", Title: "Spectra of " + code, Topic: "exports", Nav: couponsAt, Data: p,
		File: code + "-spectra", Rows: spectraFile(p.chosen, q.thin())}, nil
}

// chooseSpectra reads the spectra of a coupon, and chooses among them. Where nothing is chosen it is the first spot
// and the smallest angle.
func (s *Server) chooseSpectra(q *request, code string) (*spectraPage, error) {
	all, err := s.desk.SpectraOf(q.Context(), code)
	if err != nil {
		return nil, err
	}
	values := q.URL.Query()
	p := &spectraPage{Coupon: code, Figures: figuresOf(code, "spectra"), Spot: values.Get("spot"),
		Angle: values.Get("angle"), Pull: values.Get("pull")}
	for i := range all {
		r := &all[i].Row
		p.Spots, p.Angles = addOnce(p.Spots, r.Spot), addOnce(p.Angles, angleOf(r))
		p.Pulls = addOnce(p.Pulls, strconv.Itoa(r.Pull))
	}
	slices.Sort(p.Spots)
	slices.SortStableFunc(p.Angles, byNumber)
	if !values.Has("spot") && !values.Has("angle") && !values.Has("pull") && len(all) > 0 && q.format == "" {
		p.Spot, p.Angle = p.Spots[0], p.Angles[0]
	}
	for i := range all {
		r := &all[i].Row
		if (p.Spot == "" || r.Spot == p.Spot) && (p.Angle == "" || angleOf(r) == p.Angle) &&
			(p.Pull == "" || strconv.Itoa(r.Pull) == p.Pull) {
			p.chosen = append(p.chosen, all[i])
		}
	}
	p.Figure = figure{Caption: fmt.Sprintf("%s of %s: %d of %d readings, as they were taken in",
		quantityWords(p.chosen), code,
		len(p.chosen), len(all)), Kind: "curves", X: "wavelength_nm", Y: "value",
		Picture: fileAt(couponAt(code)+"/pulls", "svg", ""),
		Data:    withQuery(couponAt(code)+"/spectra.json", "spot", p.Spot, "angle", p.Angle, "pull", p.Pull, "thin", "700")}
	p.Readings = gridOf("Readings that are drawn", readingColumns(), pointers(p.chosen), nil)
	return p, nil
}

// quantityWords names what was read.
func quantityWords(of []desk.Spectrum) string {
	through, back := false, false
	for i := range of {
		through, back = through || of[i].Row.Quantity == study.Transmittance, back ||
			of[i].Row.Quantity != study.Transmittance
	}
	switch {
	case through && back:
		return "Reflectance and transmittance"
	case through:
		return "Transmittance"
	}
	return "Reflectance"
}

// angleOf is the angle of a reading, as a person chooses it.
func angleOf(r *study.Reading) string { return strconv.FormatFloat(r.AngleDeg, 'g', -1, 64) }

// byNumber compares numbers that are written as texts.
func byNumber(a, b string) int {
	x, _ := strconv.ParseFloat(a, 64) // both were written by angleOf
	y, _ := strconv.ParseFloat(b, 64)
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

func addOnce(all []string, s string) []string {
	if slices.Contains(all, s) {
		return all
	}
	return append(all, s)
}

// thin returns how many points of a curve a figure can show; 0: all are wanted.
func (q *request) thin() int {
	n, err := strconv.Atoi(q.URL.Query().Get("thin"))
	if err != nil || n < 10 {
		return 0
	}
	return n
}

// spectraFile writes readings in the columns of wane export --spectra, but for the name of the export.
func spectraFile(of []desk.Spectrum, most int) func(io.Writer, string) error {
	return func(w io.Writer, format string) error {
		columns := slices.DeleteFunc(desk.SpectrumColumns(), func(c desk.SpectrumColumn) bool {
			return c.Name == "export" || c.Name == "superseded_by"
		})
		fields := make([]study.Field, len(columns))
		for i := range columns {
			fields[i] = columns[i].Field
		}
		out, cells := table.New(w, format, fields), make([]any, len(columns))
		for i := range of {
			one := of[i]
			if most > 0 {
				one.Row.NM, one.Row.Values = thinned(one.Row.NM, one.Row.Values, most)
			}
			for k := range columns {
				cells[k] = columns[k].Cell(&one)
			}
			if err := out.Write(cells); err != nil {
				return err
			}
		}
		return out.Close()
	}
}

// thinned returns at most so many points of a curve, in which each spike stays: of each stretch the lowest and the
// highest, and the ends. The slices are not changed.
func thinned(nm, values []float64, most int) ([]float64, []float64) {
	n := len(nm)
	if n <= most || most < 4 {
		return nm, values
	}
	stretches := (most - 2) / 2
	x, y := []float64{nm[0]}, []float64{values[0]}
	for s := range stretches {
		from, to := 1+s*(n-2)/stretches, 1+(s+1)*(n-2)/stretches
		low, high := from, from
		for i := from; i < to; i++ {
			if values[i] < values[low] {
				low = i
			}
			if values[i] > values[high] {
				high = i
			}
		}
		for _, i := range slices.Compact([]int{min(low, high), max(low, high)}) {
			x, y = append(x, nm[i]), append(y, values[i])
		}
	}
	return append(x, nm[n-1]), append(y, values[n-1])
}

// readingColumns are the columns of a table of readings.
func readingColumns() shown.List[*desk.Spectrum] {
	type reading = *desk.Spectrum
	return shown.List[reading]{
		shown.Cell("reading", 1, "", func(s reading) string { return strconv.FormatInt(s.Number, 10) }),
		shown.Cell("pull", 1, "", func(s reading) string { return strconv.Itoa(s.Row.Pull) }),
		shown.Cell("spot", 1, "", func(s reading) string { return s.Row.Spot }),
		shown.Cell("condition", 1, "", func(s reading) string { return shown.Dash(s.Row.Condition) }),
		shown.Cell("setting", 1, "", func(s reading) string {
			return fmt.Sprintf("%g° %s", s.Row.AngleDeg,
				s.Row.Polarisation)
		}),
		shown.Cell("quantity", 1, "", func(s reading) string { return string(s.Row.Quantity) }),
		shown.Cell("session", 1, "", func(s reading) string { return shown.Dash(s.Row.Session) }),
		shown.Cell("standing", 1, "", func(s reading) string { return s.Standing.Words() }),
	}
}
