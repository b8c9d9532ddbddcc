package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/bench"
	"wane/study/desk"
	"wane/study/report"
	"wane/study/report/paper"
)

const sheetLong = `Print what lies on the bench and hangs at the rack. --out names the file: a PDF, or an HTML page
that needs nothing else. The ending of its name says which.

  wane sheet EXPOSURE --pull N --out FILE     the bench sheet of a pull
  wane sheet EXPOSURE --pull N --list         the same order as a table, with blind codes
  wane sheet EXPOSURE --pull N --key --out F  the key of the blind codes, on a page of its own
  wane sheet [EXPOSURE] --labels --out FILE   labels with the code as text and as QR code
  wane sheet [EXPOSURE] --rack --out FILE     a page for each exposed coupon, to hang beside it

A bench sheet has all coupons of the exposure, their controls, the blank and the light trap in one
session, in an order drawn by chance, and the check standards before and after them. Read so, what the
session is off cancels when coatings are compared (wane help comparing). The order and its seed are
kept in the study: the same command prints the same sheet again, and --again draws another one. Angles
and spots are those that were read last, unless you state them. Cautions and steps come from the
protocols that the study keeps.

--blind prints blind codes in place of those of the coupons. The key stays in the study; labels of a
blind sheet (--labels --pull N) have the blind codes.

Labels on A4 are 70 x 37 mm, 24 on a page; on letter 66.7 x 25.4 mm (2 5/8 x 1 inch), 30 on a page.
Print at 100 percent, without fitting to the page.
`

type sheetOptions struct {
	study             studyOptions
	list              listOptions
	with              desk.SheetOptions
	angles            string
	spots, coupons    []string
	pull              int
	listing           bool
	key, labels, rack bool
	skip              int
	paper, out        string
	size              paper.Size
	columns           listing[sheetRow]
}

func newSheetCommand() *cobra.Command {
	o := &sheetOptions{}
	cmd := &cobra.Command{
		Use: "sheet [EXPOSURE]", Short: "bench sheet of a pull, labels, and pages for the rack",
		Long: sheetLong + columnsHelp(sheetColumns) + exitCodes,
		Example: "  wane sheet roof --pull 2 --out bench.pdf\n  wane sheet roof --pull 2 --blind --out bench.html\n" +
			"  wane sheet --labels --out labels.pdf",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("name one exposure: wane sheet roof --pull 2 --out bench.pdf", "wane sheet takes one exposure, not %d",
					len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runSheet(cmd, o, args) },
	}
	o.bind(cmd)
	return cmd
}

func (o *sheetOptions) bind(cmd *cobra.Command) {
	o.study.bind(cmd)
	bindListing(cmd, &o.list, sheetColumns)
	f := cmd.Flags()
	f.IntVar(&o.pull, "pull", 0, "the pull that is read")
	f.StringVar(&o.out, "out", "", "the file to write, which ends in .pdf or .html")
	f.StringVar(&o.paper, "paper", paper.Sizes()[0].Name, "the paper: "+strings.Join(paperNames(), " or "))
	f.StringVar(&o.with.Session, "session", "", "the session in which everything is read")
	f.StringVar(&o.with.Condition, "condition", "", "the condition of the coupons: "+strings.Join(study.Conditions(), ", "))
	f.StringVar(&o.angles, "angles", "", "angles of incidence in degrees, separated by commas")
	f.StringSliceVar(&o.spots, "spots", nil, "spots of each coupon, separated by commas")
	f.IntVar(&o.with.Replicates, "replicates", 0, "scans of each spot at each angle (default 1)")
	f.StringVar(&o.with.Protocol, "protocol", "", "the protocol of readings (default angle-reflectance)")
	f.BoolVar(&o.with.Blind, "blind", false, "show blind codes in place of those of the coupons")
	f.Int64Var(&o.with.Seed, "seed", 0, "the seed of the order (default: drawn by chance)")
	f.BoolVar(&o.with.Again, "again", false, "draw another sheet of this pull; the earlier ones stay in the study")
	f.BoolVar(&o.listing, "list", false, "list the order in place of writing a file")
	f.BoolVar(&o.key, "key", false, "write the key of the blind codes")
	f.BoolVar(&o.labels, "labels", false, "write labels")
	f.BoolVar(&o.rack, "rack", false, "write a page for each exposed coupon")
	f.StringSliceVar(&o.coupons, "coupon", nil, "labels or pages of these coupons only, separated by commas")
	f.IntVar(&o.skip, "skip", 0, "labels that are used up on the first page")
	completeWords(cmd, map[string][]string{"paper": paperNames(), "condition": study.Conditions(), "protocol": protocolNames()})
	o.study.completeFlag(cmd, "coupon", func(c *desk.Codes) []string { return c.Coupons })
	o.study.completeFlag(cmd, "session", func(c *desk.Codes) []string { return c.Sessions })
}

func paperNames() (names []string) {
	for _, s := range paper.Sizes() {
		names = append(names, s.Name)
	}
	return names
}

// check reads the flags.
func (o *sheetOptions) check(cmd *cobra.Command, args []string) (err error) {
	given := cmd.Flags().Changed
	if len(args) == 1 {
		o.with.Exposure = args[0]
	}
	o.with.Pull = o.pull
	if err := o.checkKind(given); err != nil {
		return err
	}
	if err := oneOf("paper", o.paper, paperNames()); err != nil {
		return err
	}
	for _, s := range paper.Sizes() {
		if s.Name == o.paper {
			o.size = s
		}
	}
	if err := oneOf("condition", o.with.Condition, append([]string{""}, study.Conditions()...)); err != nil {
		return err
	}
	if given("angles") {
		if o.with.AnglesDeg, err = degrees("angles", o.angles); err != nil {
			return err
		}
		if n := len(o.with.AnglesDeg); n > mostSheetAngles {
			return usagef("print two sheets", "--angles has %d angles, and a page has room for %d", n, mostSheetAngles)
		}
	}
	for i, spot := range o.spots {
		o.spots[i] = strings.TrimSpace(spot)
		if fault, try := study.CheckCode(o.spots[i]); fault != "" || o.spots[i] == "" {
			return usagef(orText(try, "name spots such as --spots 1,2,3"), "--spots: %s", orText(fault, "a spot has no name"))
		}
	}
	o.with.Spots = o.spots
	return o.checkNumbers(given)
}

func orText(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

const (
	mostSheetAngles = 12
	mostReplicates  = 20
)

// checkNumbers refuses numbers that cannot be.
func (o *sheetOptions) checkNumbers(given func(string) bool) error {
	labels := o.size.Labels()
	switch {
	case given("replicates") && (o.with.Replicates < 1 || o.with.Replicates > mostReplicates):
		return usagef("write for example --replicates 2", "--replicates must be 1 to %d, not %d", mostReplicates,
			o.with.Replicates)
	case given("seed") && o.with.Seed < 1:
		return usagef("write for example --seed 7", "--seed must be at least 1, not %d", o.with.Seed)
	case o.pull < 0:
		return usagef("write for example --pull 2", "--pull must be at least 0, not %d", o.pull)
	case o.skip < 0 || o.skip >= labels.Columns*labels.Rows:
		return usagef("count the labels that are gone on the first page, row by row", "--skip must be 0 to %d, not %d",
			labels.Columns*labels.Rows-1, o.skip)
	}
	return o.list.check(o.study.cmd)
}

// checkKind refuses flags that do not go together, and a sheet without what it needs.
func (o *sheetOptions) checkKind(given func(string) bool) error {
	chosen := ""
	for _, kind := range []struct {
		flag string
		is   bool
	}{{"list", o.listing}, {"key", o.key}, {"labels", o.labels}, {"rack", o.rack}} {
		if kind.is && chosen != "" {
			return usagef("choose one", "--%s and --%s are different pages", chosen, kind.flag)
		}
		if kind.is {
			chosen = kind.flag
		}
	}
	ofCoupons := o.labels || o.rack
	for _, flag := range []string{"session", "condition", "angles", "spots", "replicates", "protocol", "blind", "seed", "again"} {
		if given(flag) && chosen != "" {
			return usagef("leave it out", "--%s is for bench sheets, and --%s prints one that is there", flag, chosen)
		}
	}
	switch {
	case given("coupon") && !ofCoupons:
		return usagef("leave it out: a bench sheet has all coupons of a session", "--coupon is for --labels and --rack")
	case given("skip") && !o.labels:
		return usagef("leave it out", "--skip is for --labels")
	case !ofCoupons && o.with.Exposure == "":
		return usagef("write for example wane sheet roof --pull 2 --out bench.pdf", "no exposure is named")
	case given("pull") && o.with.Exposure == "":
		return usagef("write for example wane sheet roof --labels --pull 2 --out labels.pdf", "no exposure is named for --pull")
	case given("pull") && o.rack:
		return usagef("leave it out: the page of a coupon has all pulls", "--pull is not for --rack")
	case given("coupon") && given("pull"):
		return usagef("leave one out", "--coupon and --pull are both given: labels of a pull are for all its coupons")
	case !ofCoupons && !given("pull"):
		return usagef("write for example wane sheet "+o.with.Exposure+" --pull 2 --out bench.pdf", "--pull is not given")
	case o.listing && o.out != "":
		return usagef("leave --out out, or leave --list out", "--list prints on the screen, and --out names a file")
	case !o.listing:
		return checkPage(o.out)
	}
	return nil
}

// checkPage refuses a name without a known ending.
func checkPage(path string) error {
	switch ending := strings.ToLower(filepath.Ext(path)); {
	case path == "":
		return usagef("name the file: --out bench.pdf or --out bench.html", "--out is not given")
	case ending != ".pdf" && ending != ".html":
		return usagef("name it .pdf or .html", "--out %s: the name of a page does not end in %q", path, ending)
	}
	return nil
}

func runSheet(cmd *cobra.Command, o *sheetOptions, args []string) error {
	err := o.check(cmd, args)
	if err != nil {
		return err
	}
	if o.columns, err = sheetColumns.Choose(o.list.format, o.list.named); err != nil {
		return err
	}
	switch {
	case o.rack, o.labels && !cmd.Flags().Changed("pull"):
		return o.study.reading(cmd.Context(), func(d *desk.Desk) error { return o.ofCoupons(cmd, d) })
	case o.listing, o.key, o.labels:
		return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
			s, err := d.Sheet(cmd.Context(), o.with)
			if err != nil {
				return err
			}
			if s == nil {
				return &study.Refusal{Fault: fmt.Sprintf("no bench sheet of pull %d of exposure %s was drawn yet", o.pull, o.with.Exposure),
					Try: fmt.Sprintf("draw it first: wane sheet %s --pull %d --out bench.pdf", o.with.Exposure, o.pull)}
			}
			return o.ofSheet(cmd, d, s)
		})
	}
	return o.bench(cmd)
}

// bench prints the sheet that is there, or draws one.
func (o *sheetOptions) bench(cmd *cobra.Command) error {
	var found bool
	if !o.with.Again {
		err := o.study.reading(cmd.Context(), func(d *desk.Desk) error {
			s, err := d.Sheet(cmd.Context(), o.with)
			if err != nil || s == nil {
				return err
			}
			found = true
			return o.writeSheet(cmd, d, s, "printed again")
		})
		if err != nil || found {
			return err
		}
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		s, err := d.DrawSheet(cmd.Context(), o.with, 1+rand.Int64N(999_999_999))
		if err != nil {
			return err
		}
		return o.writeSheet(cmd, d, s, "drawn and kept")
	})
}

// writeSheet writes a bench sheet and says what became of it.
func (o *sheetOptions) writeSheet(cmd *cobra.Command, d *desk.Desk, s *bench.Sheet, done string) error {
	if err := printNotes(cmd.ErrOrStderr(), s.Notes); err != nil {
		return err
	}
	if err := o.write(cmd, d, report.BenchSheet(s, o.size)); err != nil {
		return err
	}
	n := 0
	for _, l := range s.Lines {
		if l.Kind == study.SheetCoupon {
			n++
		}
	}
	return printLine(cmd.OutOrStdout(), "sheet %d of pull %d of exposure %s, %s: %s in the order of seed %d, in %s", s.Number,
		s.Pull, s.Exposure, done, count(n, "coupon"), s.Seed, study.Shown(o.out))
}

// ofSheet prints what follows from a sheet that is there.
func (o *sheetOptions) ofSheet(cmd *cobra.Command, d *desk.Desk, s *bench.Sheet) error {
	switch {
	case o.listing:
		out := openRows(o.columns, pageOf(cmd), o.list.format)
		for i := range s.Lines {
			if err := out.write(sheetRow{s, i}); err != nil {
				return err
			}
		}
		return out.end()
	case o.key:
		if !s.Blind {
			return &study.Refusal{Fault: fmt.Sprintf("sheet %d of pull %d of exposure %s is not blind: it has no key", s.Number,
				s.Pull, s.Exposure), Try: "draw a blind one: --again --blind"}
		}
		return o.written(cmd, d, report.BlindKey(s, o.size))
	}
	return o.written(cmd, d, report.Labels(s.Labels(), o.skip, d.Settings().Created, o.size))
}

// ofCoupons prints labels or pages of coupons.
func (o *sheetOptions) ofCoupons(cmd *cobra.Command, d *desk.Desk) error {
	choice := desk.CouponChoice{Exposure: o.with.Exposure, Coupons: o.coupons}
	if o.labels {
		labels, err := d.Labels(cmd.Context(), choice)
		if err != nil {
			return err
		}
		return o.written(cmd, d, report.Labels(labels, o.skip, d.Settings().Created, o.size))
	}
	pages, err := d.Racks(cmd.Context(), choice)
	if err != nil {
		return err
	}
	return o.written(cmd, d, report.RackPages(pages, d.Settings().Created, o.size))
}

// written is write, and says so.
func (o *sheetOptions) written(cmd *cobra.Command, d *desk.Desk, doc *paper.Document) error {
	if err := o.write(cmd, d, doc); err != nil {
		return err
	}
	return printLine(cmd.OutOrStdout(), "wrote %s", study.Shown(o.out))
}

// write writes a document into the file, with the permissions of the study.
func (o *sheetOptions) write(cmd *cobra.Command, d *desk.Desk, doc *paper.Document) error {
	mode, err := d.Mode()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	missing, err := writePage(cmd.Context(), &buf, o.out, doc)
	if err != nil {
		return err
	}
	if len(missing) > 0 {
		err := printLine(cmd.ErrOrStderr(), "note the font of the PDF does not have %s, in whose place it draws boxes; an HTML page "+
			"has them: --out FILE.html", study.Shown(string(missing)))
		if err != nil {
			return err
		}
	}
	return desk.WriteFile(o.out, mode, buf.Bytes())
}

// writePage writes a document in the format that the ending of a name says.
func writePage(ctx context.Context, w io.Writer, name string, doc *paper.Document) (missing []rune, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if strings.EqualFold(filepath.Ext(name), ".html") {
		return nil, doc.HTML(w)
	}
	return doc.PDF(w)
}

// sheetRow is a line of a bench sheet.
type sheetRow struct {
	sheet *bench.Sheet
	at    int
}

func (r sheetRow) line() *study.SheetLine { return &r.sheet.Lines[r.at] }

func (r sheetRow) coupon() study.Coupon { return r.sheet.Coupons[r.line().Code] }

// sheetColumns are the columns of the order of a sheet.
var sheetColumns = listing[sheetRow]{
	valueColumn("number", func(r sheetRow) any { return r.at + 1 }).Ranked(1, "no.", nil),
	valueColumn("kind", func(r sheetRow) any { return string(r.line().Kind) }).Ranked(2, "", nil),
	valueColumn("code", func(r sheetRow) any { return orEmpty(r.line().Code) }).Ranked(1, "", nil),
	valueColumn("blind_code", func(r sheetRow) any { return orEmpty(r.line().Blind) }).Ranked(1, "blind code", nil),
	valueColumn("role", func(r sheetRow) any { return orEmpty(string(r.coupon().Role)) }).Ranked(3, "", nil),
	valueColumn("coating", func(r sheetRow) any { return orEmpty(r.coupon().Coating) }).Ranked(4, "", nil),
	valueColumn("lot", func(r sheetRow) any { return orEmpty(r.coupon().Lot) }),
	valueColumn("spots", func(r sheetRow) any { return r.line().Spots }).Ranked(5, "", nil),
	valueColumn("seed", func(r sheetRow) any { return r.sheet.Seed }),
	valueColumn("drawn", func(r sheetRow) any { return r.sheet.Drawn }),
}
