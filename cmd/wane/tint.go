package main

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/optics/colour"
	"wane/study"
	"wane/study/desk"
	"wane/study/intake/source"
	"wane/study/shown"
	"wane/study/tint"
)

const tintLong = `Show which tint the films of this study reflect, and which films a measured tint can come from.

The card has a ribbon for each coating at each pull, the one that keeps most of its gain first: the
tint over the thickness, with a mark where the film is now, at each angle that the study was read
at. A ribbon shows the tint in so much light that bare glass has L* 90; the true luminance stands
beside it. --figure writes the card as .svg, .png or .pdf, --page as a page of HTML.

The way back: --lab L,a,b of a colour meter, or what a camera saw of the surface and of a white
sheet in one picture, as values (--rgb and --sheet, 0 to 255) or as a picture (--picture with
--spot and --sheet-area, each x,y,width,height in pixels). It lists the thicknesses that cannot be
excluded, several where tints repeat.

An eye does not measure: judge no coating by its tint. wane help reading-tints says what deceives.
`

// tintOptions are the flags of tint.
type tintOptions struct {
	study        studyOptions
	list         listOptions
	light        string
	angles       string
	coating      string
	figure, page string

	lab, rgb, sheet          string
	picture, spot, sheetArea string
	spread                   float64

	opt desk.TintOptions
}

func newTintCommand() *cobra.Command {
	o := &tintOptions{}
	cmd := &cobra.Command{
		Use: "tint", Short: "card of the reflected tint of the films in this study, and the way back",
		Long: tintLong + exitCodes,
		Example: "  wane tint --figure card.pdf\n  wane tint --light LED-B3 --angles 8 --page card.html\n" +
			"  wane tint --lab 12.4,9.1,-20.3 --angles 8 --spread 0.5\n" +
			"  wane tint --rgb 61,70,120 --sheet 230,228,221 --angles 30 --spread 3",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runTint(cmd, o) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Tints())
	f := cmd.Flags()
	f.StringVar(&o.light, "light", "D65", "under which light: "+strings.Join(shown.LightWords(), ", "))
	f.StringVar(&o.angles, "angles", "",
		"angles in degrees from the normal, separated by commas; without it those that the study was read at")
	f.StringVar(&o.coating, "coating", "", "films of this coating only")
	f.StringVar(&o.figure, "figure", "", "write the card into this file, .svg, .png or .pdf")
	f.StringVar(&o.page, "page", "", "write the card as a page into this file, .html")
	f.StringVar(&o.lab, "lab", "", "a measured tint: L*,a*,b* relative to a white standard")
	f.StringVar(&o.rgb, "rgb", "", "what a camera saw of the surface: red,green,blue, 0 to 255 (sRGB)")
	f.StringVar(&o.sheet, "sheet", "", "what it saw of a white sheet in the same picture: red,green,blue")
	f.StringVar(&o.picture, "picture", "", "a picture of the surface beside a white sheet, PNG or JPEG")
	f.StringVar(&o.spot, "spot", "", "where the surface is in the picture: x,y,width,height in pixels")
	f.StringVar(&o.sheetArea, "sheet-area", "", "where the white sheet is in the picture: x,y,width,height in pixels")
	f.Float64Var(&o.spread, "spread", 1, "standard deviation of the measured tint, as a colour difference (CIEDE2000)")
	completeWords(cmd, map[string][]string{"light": shown.LightWords()})
	return cmd
}

// mostTints is how many films a card has: more are no card.
const mostTints = 24

func (o *tintOptions) check(cmd *cobra.Command) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := oneOf("light", o.light, shown.LightWords()); err != nil {
		return err
	}
	light := colour.Lights[slices.Index(shown.LightWords(), o.light)]
	o.opt = desk.TintOptions{Coating: o.coating, Most: mostTints, Light: light}
	if o.angles != "" {
		angles, err := degrees("angles", o.angles)
		if err != nil {
			return err
		}
		slices.Sort(angles)
		o.opt.Angles = slices.Compact(angles)
	}
	if err := checkFigure(o.figure); err != nil {
		return err
	}
	if o.page != "" && !strings.HasSuffix(strings.ToLower(o.page), ".html") {
		return usagef("name it .html", "--page %s: the name of a page does not end in .html", study.Shown(o.page))
	}
	return o.checkMeasured(cmd)
}

// checkMeasured refuses flags of a measured tint that do not go together.
func (o *tintOptions) checkMeasured(cmd *cobra.Command) error {
	given := 0
	for _, way := range []string{o.lab, o.rgb, o.picture} {
		if way != "" {
			given++
		}
	}
	switch {
	case given > 1:
		return usagef("leave all but one out", "--lab, --rgb and --picture are three ways to state one tint")
	case o.rgb != "" && o.sheet == "":
		return usagef("add what the camera saw of a white sheet in the same picture: --sheet 230,228,221",
			"--rgb says nothing without --sheet: what the camera takes for white is not known")
	case o.picture != "" && (o.spot == "" || o.sheetArea == ""):
		return usagef("add --spot and --sheet-area, each x,y,width,height in pixels",
			"--picture needs where the surface and where a white sheet is in it")
	case o.picture == "" && (o.spot != "" || o.sheetArea != ""):
		return usagef("add --picture FILE", "--spot and --sheet-area are of a picture, but --picture is not given")
	case o.rgb == "" && o.sheet != "":
		return usagef("add --rgb", "--sheet goes with --rgb, which is not given")
	case given == 0 && cmd.Flags().Changed("spread"):
		return usagef("add --lab, --rgb or --picture", "--spread is of a measured tint, and there is none")
	case given == 0:
		return nil
	case len(o.opt.Angles) != 1:
		return usagef("add for example --angles 8", "a measured tint is of one angle, which must be given")
	case o.figure != "" || o.page != "":
		return usagef("leave one of them out", "--figure and --page are of the card, and a measured tint has none")
	case !(o.spread > 0 && o.spread <= 50):
		return usagef("repeat the measurement, and give the standard deviation of the results",
			"--spread must be above 0 and at most 50, not %g", o.spread)
	}
	return nil
}

func runTint(cmd *cobra.Command, o *tintOptions) error {
	if err := o.check(cmd); err != nil {
		return err
	}
	measured, err := o.measured()
	if err != nil {
		return err
	}
	if measured != nil {
		return o.match(cmd, *measured)
	}
	columns, err := shown.Tints().Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		if err := o.checkCoating(cmd, d); err != nil {
			return err
		}
		card, err := d.TintCard(cmd.Context(), &o.opt)
		if err != nil {
			return err
		}
		if err := o.draw(cmd, d, card); err != nil {
			return err
		}
		return listTints(cmd, o, columns, card)
	})
}

func (o *tintOptions) checkCoating(cmd *cobra.Command, d *desk.Desk) error {
	if o.coating == "" {
		return nil
	}
	return d.CheckCodes(cmd.Context(), study.Filter{Coatings: []string{o.coating}}, desk.Moment{})
}

// measured returns the tint that is stated; nil: none is.
func (o *tintOptions) measured() (*tint.Measured, error) {
	switch {
	case o.lab != "":
		v, err := listOfNumbers("lab", o.lab, "L*,a*,b*: --lab 12.4,9.1,-20.3", 3, -200, 200)
		if err != nil {
			return nil, err
		}
		if !(v[0] > 0 && v[0] <= 100) {
			return nil, usagef("give it relative to a white standard, which has 100",
				"--lab: L* must be above 0 and at most 100, not %g", v[0])
		}
		m := tint.OfLab(colour.Lab{L: v[0], A: v[1], B: v[2]}, o.opt.Light, o.spread)
		return &m, nil
	case o.rgb != "":
		surface, err := listOfNumbers("rgb", o.rgb, "red,green,blue: --rgb 61,70,120", 3, 0, 255)
		if err != nil {
			return nil, err
		}
		sheet, err := listOfNumbers("sheet", o.sheet, "red,green,blue: --sheet 230,228,221", 3, 0, 255)
		if err != nil {
			return nil, err
		}
		m, err := desk.TintOfCamera(rgbOf(surface), rgbOf(sheet), o.opt.Light, o.spread)
		return &m, err
	case o.picture != "":
		return o.ofPicture()
	}
	return nil, nil
}

func rgbOf(v []float64) colour.RGB { return colour.RGB{R: v[0] / 255, G: v[1] / 255, B: v[2] / 255} }

// ofPicture returns the tint of a picture.
func (o *tintOptions) ofPicture() (*tint.Measured, error) {
	var areas [2]tint.Area
	for i, a := range []struct{ flag, text string }{{"spot", o.spot}, {"sheet-area", o.sheetArea}} {
		v, err := listOfNumbers(a.flag, a.text, "x,y,width,height in pixels: --"+a.flag+" 120,80,40,40", 4, 0, 1e6)
		if err != nil {
			return nil, err
		}
		for _, n := range v {
			if n != math.Trunc(n) {
				return nil, usagef("write x,y,width,height in pixels: --"+a.flag+" 120,80,40,40", "--%s takes whole numbers, not %g",
					a.flag, n)
			}
		}
		areas[i] = tint.Area{X: int(v[0]), Y: int(v[1]), Width: int(v[2]), Height: int(v[3])}
	}
	data, err := source.ReadFile(o.picture)
	if err != nil {
		return nil, err
	}
	m, err := desk.TintOfPicture(o.picture, bytes.NewReader(data), areas[0], areas[1], o.opt.Light, o.spread)
	return &m, err
}

// listOfNumbers reads n numbers that commas separate.
func listOfNumbers(flag, text, example string, n int, lo, hi float64) (v []float64, err error) {
	for _, part := range strings.Split(text, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(x >= lo && x <= hi) {
			return nil, usagef("write "+example, "--%s takes numbers from %g to %g, not %q", flag, lo, hi, part)
		}
		v = append(v, x)
	}
	if len(v) != n {
		return nil, usagef("write "+example, "--%s takes %d numbers, not %d", flag, n, len(v))
	}
	return v, nil
}
