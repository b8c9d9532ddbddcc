package main

import (
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/optics/colour"
	"wane/study"
	"wane/study/ageing"
	"wane/study/bench"
	"wane/study/desk"
	"wane/study/desk/demo"
	"wane/study/evaluate"
	"wane/study/report"
	"wane/study/report/paper"
	"wane/study/shown"
)

const demoLong = `Build a made-up study from made-up exports, do the whole job with it, and print the results
by coating beside the true values. The study has three coatings on a roof that does not
exist: one becomes thinner, one loses patches, and one does not change. One coupon breaks,
and one joins late. The rosters, the map, the exports, the study, figures, a bench sheet, labels
and the report are written into DIR (wane-demo). A folder is replaced only if an earlier demo made it.
` + exitCodes

func newDemoCommand() *cobra.Command {
	return &cobra.Command{
		Use: "demo [DIR]", Short: "the whole job on a made-up study", Long: demoLong,
		Example: "  wane demo\n  wane demo /tmp/look",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("name one folder, or none: wane demo", "wane demo takes one folder at most, not %d", len(args))
			}
			return nil
		},
		RunE: runDemo,
	}
}

func runDemo(cmd *cobra.Command, args []string) error {
	folder := "wane-demo"
	if len(args) == 1 {
		folder = args[0]
	}
	made, d, err := demo.Run(cmd.Context(), folder, runtime.NumCPU(), operator())
	if err != nil {
		return err
	}
	if err = printDemo(cmd, d, made); err == nil {
		err = drawDemo(cmd, d, folder)
	}
	if err == nil {
		err = printPages(cmd, d, folder)
	}
	if err == nil {
		_, err = writeReport(cmd.Context(), d, &reportOptions{by: string(ageing.ByCoating), quantity: "solar_T",
			notice: "Everything here is made up: the makers, the site, the coupons and the readings"}, filepath.Join(folder, demo.Report))
	}
	return joinErrors(err, d.Close())
}

// drawDemo writes the figures.
func drawDemo(cmd *cobra.Command, d *desk.Desk, folder string) error {
	for _, name := range demo.Figures {
		o := &resultsOptions{figure: filepath.Join(folder, name), coupon: demo.Shown}
		if o.draw = strings.TrimSuffix(name, filepath.Ext(name)); o.draw == "change" {
			o.draw, o.coupon = drawChanged, ""
		}
		if err := drawResults(cmd, d, o); err != nil {
			return err
		}
	}
	tints := &tintOptions{figure: filepath.Join(folder, demo.Tints)}
	card, err := d.TintCard(cmd.Context(), &desk.TintOptions{Most: mostTints})
	if err != nil {
		return err
	}
	if err := tints.draw(cmd, d, card); err != nil {
		return err
	}
	return drawPredicted(cmd, d, folder)
}

// drawPredicted draws what the shown coupon would show at its last pull, at angles of which one was not read.
func drawPredicted(cmd *cobra.Command, d *desk.Desk, folder string) error {
	o := &predictOptions{from: demo.Shown, pull: demo.LastPull, spot: "1", figure: filepath.Join(folder, demo.Predicted)}
	o.of = desk.PredictOptions{Film: film.NoSample(), WithSpectra: true, View: evaluate.View{AnglesDeg: []float64{8, 45, 75},
		LoNM: 380, HiNM: 1100, StepNM: 2, Polarisation: "u", Light: colour.D65}}
	fit, stamp, err := o.fitted(cmd, d)
	if err != nil {
		return err
	}
	var spectra []evaluate.Spectrum
	if err := desk.Predict(cmd.Context(), &o.of, fit, func(_ *evaluate.Forecast, s []evaluate.Spectrum) error {
		spectra = s
		return nil
	}); err != nil {
		return err
	}
	return o.draw(cmd, d, spectra, stamp)
}

// printPages writes the bench sheet of the last pull, and labels.
func printPages(cmd *cobra.Command, d *desk.Desk, folder string) error {
	size := paper.Sizes()[0]
	wanted := bench.Wanted{Exposure: demo.Exposure, Pull: demo.LastPull}
	s, err := d.DrawSheet(cmd.Context(), desk.SheetOptions{Wanted: wanted}, 1)
	if err != nil {
		return err
	}
	labels, err := d.Labels(cmd.Context(), desk.CouponChoice{})
	if err != nil {
		return err
	}
	for name, doc := range map[string]*paper.Document{demo.Bench: report.BenchSheet(s, size),
		demo.Labels: report.Labels(labels, 0, d.Settings().Created, size)} {
		o := &sheetOptions{out: filepath.Join(folder, name)}
		if err := o.write(cmd, d, doc); err != nil {
			return err
		}
	}
	return nil
}

func printDemo(cmd *cobra.Command, d *desk.Desk, made *demo.Made) error {
	c, err := demo.Compare(cmd.Context(), made.Truth, d)
	if err != nil {
		return err
	}
	w := cmd.OutOrStdout()
	fmt.Fprintf(w, "A made-up study: %s, %s with %s, %s evaluated.\n\n", count(made.Enrolled.Coupons, "coupon"),
		count(made.TakenIn.Files, "export"), count(made.TakenIn.Curves, "curve"), count(made.Fitted.Fits, "spot"))
	if err := demoTable(pageOf(cmd), c.Found, c.True); err != nil {
		return err
	}
	if err := writeLine(w, losslessWords); err != nil {
		return err
	}
	if err := demoVerdicts(w, made); err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "\nOf %d changes of exposed spots after their baseline, %d (%.0f %%) lie within their stated 95 %% "+
		"interval of the truth.\n"+
		"To see more: wane results --study %s --by coating; rosters, map, exports, figures (change.svg and others), a bench sheet, labels and report.html are in %s.\n",
		c.Changes, c.Within, 100*float64(c.Within)/float64(max(1, c.Changes)), study.Shown(made.Study),
		study.Shown(filepath.Clean(made.Folder)))
	return err
}

// demoVerdicts prints what the rule of the demo says.
func demoVerdicts(w io.Writer, made *demo.Made) error {
	for i := range made.Rules {
		r := &made.Rules[i]
		words := make([]string, len(r.Now))
		for k := range r.Now {
			words[k] = r.Now[k].Group + " " + r.Now[k].Row.Verdict
		}
		if err := writeLine(w, ""); err != nil {
			return err
		}
		if err := printLine(w, "By the rule %s, added before the first exposed reading (a loss below %g %s after %g %s): %s.",
			r.Name, r.Limit, r.Unit, r.Dose, r.DoseUnit, strings.Join(words, ", ")); err != nil {
			return err
		}
	}
	return nil
}

// demoColumns are the columns of the table of what was found beside what is true.
var demoColumns = []tableColumn{
	{head: "coating", rank: 1}, {head: "pull", rank: 1}, {head: "dose", rank: 2}, {head: "coupons", rank: 6},
	{head: "mean change / pp", rank: 1}, {head: "95 % interval", rank: 1}, {head: "true mean / pp", rank: 1},
	{head: "gain kept", rank: 4}, {head: "material left / nm", rank: 5}, {head: "spots", rank: 3},
}

func demoTable(p page, found, truth []ageing.Group) error {
	out := newTable(p, demoColumns...)
	for i, g := range found {
		if g.Pull == 0 {
			continue
		}
		err := out.row(g.Group, strconv.Itoa(g.Pull), shown.DoseWords(&g), strconv.Itoa(g.Coupons), decimal(g.Change, 3),
			decimal(g.Lo, 3)+" to "+decimal(g.Hi, 3), decimal(truth[i].Change, 3), decimal(g.GainKept, 3), decimal(g.Solid, 1),
			shown.StateWords(&g))
		if err != nil {
			return err
		}
	}
	return out.end()
}
