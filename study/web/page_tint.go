package web

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"mime/multipart"
	"slices"
	"strconv"
	"strings"

	"wane/optics/colour"
	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/shown"
	"wane/study/tint"
)

// tintPage is the card of reflected tints, or what a measured tint can come from.
type tintPage struct {
	Form      map[string]string // what the address says
	Lights    []string
	Coatings  []string
	Card      string // the address of the card: its colours stay as they are on a dark page
	Films     *grid
	Head      string
	More      int
	Cautions  []string
	Matches   *grid
	None      string // coatings without a film of that tint
	Refused   []troubleLine
	Most      int // megabytes of a picture
	IsMatched bool
}

// tintForm is a form of the page, whose fields have names that begin with that of the form.
type tintForm struct {
	ID string
	*tintPage
}

// In is the page as one of its forms.
func (p *tintPage) In(form string) tintForm { return tintForm{form, p} }

// tintFields are what an address of the page can say.
var tintFields = []string{"light", "angles", "coating", "lab", "rgb", "sheet", "camera", "spread"}

// mostTints is how many films a card has: more are no card.
const mostTints = 24

// tint is the page of tints.
func (s *Server) tint(q *request) (answer, error) {
	form := map[string]string{}
	for _, f := range tintFields {
		form[f] = strings.TrimSpace(q.URL.Query().Get(f))
	}
	codes, err := s.desk.Codes(q.Context())
	if err != nil {
		return nil, err
	}
	form["light"], form["spread"] = cmp.Or(form["light"], "D65"), cmp.Or(form["spread"], "1")
	p := &tintPage{Form: form, Lights: shown.LightWords(), Coatings: codes.Coatings, Cautions: drawn.TintCautions(),
		Most: largestPicture >> 20}
	v := &view{Name: "tint", Title: "Tints", Topic: "reading-tints", Nav: tintAt, Data: p}
	opt, err := tintOptions(form, codes.Coatings)
	var films *desk.TintFilms
	if err == nil {
		films, v.UpTo, err = s.whole.tints.get(q.Context(), q.head.Number)
	}
	if errors.Is(err, errBeingMade) {
		return nil, err
	}
	if err == nil {
		p.IsMatched = form["lab"] != "" || form["rgb"] != "" || form["camera"] != ""
		if p.IsMatched {
			err = p.match(v, films, opt)
		} else {
			err = p.card(s, q, v, films, opt)
		}
	}
	if err != nil && q.format == "" && statusOf(err) < 500 {
		p.Refused = linesOf(err)
		return v, nil
	}
	return v, err
}

// tintOptions reads which card a form asks for.
func tintOptions(form map[string]string, coatings []string) (*desk.TintOptions, error) {
	k := slices.Index(shown.LightWords(), form["light"])
	if k < 0 {
		return nil, &study.Refusal{Fault: "there is no light " + study.Shown(form["light"]),
			Try: "choose one of: " + strings.Join(shown.LightWords(), ", ")}
	}
	opt := &desk.TintOptions{Light: colour.Lights[k], Coating: form["coating"], Most: mostTints}
	if opt.Coating != "" && !slices.Contains(coatings, opt.Coating) {
		return nil, &study.Refusal{Fault: "no coating " + study.Shown(opt.Coating) + " is enrolled",
			Try: study.DidYouMean(opt.Coating, coatings, "choose one of the list")}
	}
	if form["angles"] == "" {
		return opt, nil
	}
	angles, err := numbersOf("angles", form["angles"], 0, 89.9)
	if err != nil {
		return nil, err
	}
	slices.Sort(angles)
	if opt.Angles = slices.Compact(angles); len(opt.Angles) > mostTintAngles {
		return nil, &study.Refusal{Fault: fmt.Sprintf("%d angles are too many for a card", len(opt.Angles)),
			Try: "name at most " + decimal(mostTintAngles)}
	}
	return opt, nil
}

// mostTintAngles is how many angles a card can have.
const mostTintAngles = 8

// numbersOf reads numbers that commas or spaces separate.
func numbersOf(what, text string, lo, hi float64) (of []float64, err error) {
	for _, word := range strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == ' ' || c == ';' }) {
		v, err := strconv.ParseFloat(word, 64)
		if err != nil || !(v >= lo && v <= hi) {
			return nil, &study.Refusal{Fault: fmt.Sprintf("%s: %s is no number from %g to %g", what, study.Shown(word), lo, hi),
				Try: "write numbers with commas between them, and a point for decimals: 8,30"}
		}
		of = append(of, v)
	}
	return of, nil
}

// three reads three numbers.
func three(what, text string, lo, hi float64) (of [3]float64, err error) {
	all, err := numbersOf(what, text, lo, hi)
	if err == nil && len(all) != 3 {
		err = &study.Refusal{Fault: fmt.Sprintf("%s: there are %d numbers, and 3 are needed", what, len(all)),
			Try: "write three numbers with commas between them"}
	}
	if err != nil {
		return of, err
	}
	return [3]float64(all), nil
}

// card shows the card.
func (p *tintPage) card(s *Server, q *request, v *view, films *desk.TintFilms, opt *desk.TintOptions) error {
	card, err := films.Card(opt)
	if err != nil {
		return err
	}
	rows := shown.TintRows(card)
	p.Films, p.Head, p.More = gridOf("The films as they are now", shown.Tints().Table(), rows, tintCoating), shown.TintHead(card), card.More
	p.Card = withQuery(tintAt+".svg", "light", p.Form["light"], "angles", p.Form["angles"], "coating", p.Form["coating"])
	f := drawn.Tints(card)
	if f.Stamp, err = s.desk.Stamp(q.Context(), v.UpTo); err != nil {
		return err
	}
	v.File, v.Rows, v.Figure = "tints", rowsFile(shown.Tints(), rows), f.Write
	return nil
}

// tintCoating leads from a coating to its coupons.
func tintCoating(column string, r *shown.TintRow) string {
	if column == "coating" {
		return withQuery(couponsAt, "coating", r.Coating)
	}
	return ""
}

// match shows what a measured tint can come from.
func (p *tintPage) match(v *view, films *desk.TintFilms, opt *desk.TintOptions) error {
	measured, err := measuredTint(p.Form, opt)
	if err != nil {
		return err
	}
	matches, err := films.Matches(opt, measured)
	if err != nil {
		return err
	}
	rows, none := shown.TintMatchRows(matches)
	if len(none) > 0 {
		p.None = shown.NoTintWords(strings.Join(none, ", "))
	}
	p.Matches, p.Head = gridOf("Thicknesses that cannot be excluded", shown.TintMatches().Table(), rows, nil),
		shown.TintMatchHead(opt, &measured)
	v.File, v.Rows = "tint", rowsFile(shown.TintMatches(), rows)
	return nil
}

// measuredTint reads the tint that a form states.
func measuredTint(form map[string]string, opt *desk.TintOptions) (m tint.Measured, err error) {
	spread, err := tintSpread(form, opt)
	if err != nil {
		return m, err
	}
	switch {
	case form["lab"] != "":
		of, err := three("L*, a*, b*", form["lab"], -200, 200)
		if err != nil {
			return m, err
		}
		if !(of[0] > 0 && of[0] <= 100) {
			return m, &study.Refusal{Fault: fmt.Sprintf("L* must be above 0 and at most 100, not %g", of[0]),
				Try: "give it relative to a white standard, which has 100"}
		}
		return tint.OfLab(colour.Lab{L: of[0], A: of[1], B: of[2]}, opt.Light, spread), nil
	case form["camera"] != "":
		of, err := three("what the camera saw", form["camera"], -1000, 1000)
		m = tint.OfLab(colour.Lab{L: of[0], A: of[1], B: of[2]}, opt.Light, spread)
		m.Absolute = false // how bright the surface is says nothing
		return m, err
	}
	surface, err := three("the surface", form["rgb"], 0, 255)
	if err != nil {
		return m, err
	}
	sheet, err := three("the white sheet", form["sheet"], 0, 255)
	if err != nil {
		return m, err
	}
	return desk.TintOfCamera(rgbOf(surface), rgbOf(sheet), opt.Light, spread)
}

func rgbOf(of [3]float64) colour.RGB {
	return colour.RGB{R: of[0] / 255, G: of[1] / 255, B: of[2] / 255}
}

// tintSpread reads the spread of a measured tint, which is of one angle.
func tintSpread(form map[string]string, opt *desk.TintOptions) (float64, error) {
	if len(opt.Angles) != 1 {
		return 0, &study.Refusal{Fault: "a measured tint is of one angle, which must be given", Try: "write it in the form: 8"}
	}
	spread, err := strconv.ParseFloat(form["spread"], 64)
	if err != nil || !(spread > 0 && spread <= 50) {
		return 0, &study.Refusal{Fault: "the spread must be above 0 and at most 50, not " + study.Shown(form["spread"]),
			Try: "repeat the measurement, and give the standard deviation of the results"}
	}
	return spread, nil
}

// largestPicture is how many bytes the form with a picture may have.
const largestPicture = 32 << 20

// readTint reads the tint of a surface from a picture, keeps nothing of it, and leads to what films can have it.
func (s *Server) readTint(q *request) (answer, error) {
	form := map[string]string{}
	for _, f := range tintFields {
		form[f] = strings.TrimSpace(q.PostFormValue(f))
	}
	opt, err := tintOptions(form, []string{form["coating"]})
	if err != nil {
		return nil, err
	}
	spread, err := tintSpread(form, opt)
	if err != nil {
		return nil, err
	}
	var areas [2]tint.Area
	for i, field := range []string{"spot", "sheet-area"} {
		if areas[i], err = areaOf(field, q.PostFormValue(field)); err != nil {
			return nil, err
		}
	}
	name, data, err := formPicture(q)
	if err != nil {
		return nil, err
	}
	m, err := desk.TintOfPicture(name, bytes.NewReader(data), areas[0], areas[1], opt.Light, spread)
	if err != nil {
		return nil, err
	}
	lab := m.Seen.Lab(opt.Light.White())
	places := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
	return &done{To: withQuery(tintAt, "light", form["light"], "angles", form["angles"], "coating", form["coating"],
		"camera", places(lab.L)+","+places(lab.A)+","+places(lab.B), "spread", strconv.FormatFloat(m.Spread, 'g', 4, 64))}, nil
}

// areaOf reads an area of a picture.
func areaOf(field, text string) (a tint.Area, err error) {
	what := map[string]string{"spot": "the area of the surface", "sheet-area": "the area of the white sheet"}[field]
	of, err := numbersOf(what, text, 0, 1e6)
	if err == nil && len(of) != 4 {
		err = &study.Refusal{Fault: fmt.Sprintf("%s: there are %d numbers, and 4 are needed", what, len(of)),
			Try: "write x,y,width,height in pixels from the upper left corner: 120,80,40,40"}
	}
	if err != nil {
		return a, err
	}
	whole := func(v float64) int { return int(math.Round(v)) }
	return tint.Area{X: whole(of[0]), Y: whole(of[1]), Width: whole(of[2]), Height: whole(of[3])}, nil
}

// formPicture is the picture of a form.
func formPicture(q *request) (name string, data []byte, err error) {
	var files []*multipart.FileHeader
	if q.MultipartForm != nil {
		files = q.MultipartForm.File["files"]
	}
	if len(files) != 1 || files[0].Filename == "" {
		return "", nil, &study.Refusal{Fault: "no picture is chosen", Try: "choose one in PNG or JPEG"}
	}
	f, err := files[0].Open()
	if err != nil {
		return "", nil, cannotKeep(err)
	}
	defer f.Close()
	var all bytes.Buffer
	_, err = all.ReadFrom(f)
	return files[0].Filename, all.Bytes(), err
}
