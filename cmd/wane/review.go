package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/guard"
	"wane/study/shown"
)

const reviewLong = `Decide about readings. Without --release and --aside the command lists the readings that do
not enter results, because a guard holds them or a person set them aside. The table has one
row for each spot; --explain, a spot or numbers show each reading. A reason that an earlier
row has is not repeated: "as reading 17". With one of the two flags and a reason, which stays
in the study, you change how readings stand:

  --release  the readings enter results, whatever a guard found or a person decided before
  --aside    the readings stay in the study, but enter no result

Name the readings by the numbers that the list and wane trace show (17, or a range such as
196-199), or by place: --coupon, --pull, --spot, --coating, --angle, --polarisation,
--session and --flagged together. Nothing is deleted, and the last decision counts. Results
that depend on such a reading show only the flag reviewed until wane fit runs again.
`

type reviewOptions struct {
	study          studyOptions
	list           listOptions
	columns        listing[*desk.Judged] // chosen
	explain        bool
	release, aside bool
	why            string
	of             desk.Selection
	filter         filterOptions
	angle          string
	placed         bool // readings are named by their place
}

func newReviewCommand() *cobra.Command {
	o := &reviewOptions{of: desk.Everything()}
	cmd := &cobra.Command{
		Use: "review [NUMBER...]", Short: "exclude readings, or include them again, with a reason",
		Long: reviewLong + columnsHelp(shown.Judged()) + exitCodes,
		Example: "  wane review\n  wane review 17 18 --release --why 'the blank was soiled, these are right'\n" +
			"  wane review --coupon A01 --pull 2 --spot 1 --aside --why 'finger mark on the spot'",
		RunE: func(cmd *cobra.Command, args []string) error { return runReview(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Judged())
	f := cmd.Flags()
	f.BoolVar(&o.explain, "explain", false, "in the table, one row for each reading, with the reason why it is held")
	f.BoolVar(&o.release, "release", false, "let the readings enter results")
	f.BoolVar(&o.aside, "aside", false, "set the readings aside")
	f.StringVar(&o.why, "why", "", "the reason, which stays in the study")
	o.filter.words = guardWords
	o.filter.bind(cmd, &o.study, "readings", "coupon", "pull", "spot", "coating", "session",
		"flagged")
	f.Lookup("flagged").Usage = "only readings that a guard holds or held; --flagged=GUARD,... one of these guards"
	f.StringVar(&o.angle, "angle", "", "only readings at this angle of incidence, in degrees")
	f.StringVar(&o.of.Polarisation, "polarisation", "", "only readings in this polarisation: s, p, u or n")
	return cmd
}

func runReview(cmd *cobra.Command, o *reviewOptions, args []string) error {
	if err := o.check(cmd, args); err != nil {
		return err
	}
	if !o.release && !o.aside {
		return o.show(cmd)
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		to := study.Counted
		if o.aside {
			to = study.Aside
		}
		reviewed, err := d.Review(cmd.Context(), o.of, to, o.why)
		if err != nil {
			return err
		}
		changed := reviewed.Changed
		reportGuards(cmd.ErrOrStderr(), &reviewed.Guards)
		if o.list.format != "table" {
			return listJudged(pageOf(cmd), o.list.format, o.columns, changed)
		}
		done := fmt.Sprintf("released: %d", len(changed))
		if o.aside {
			done = fmt.Sprintf("set aside: %d", len(changed))
		} else if n := reviewed.EverHeld(); n > 0 {
			done += fmt.Sprintf(" (%d of them held by guards)", n)
		}
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s; now run wane fit\n", done)
		return err
	})
}

// guardWords are the guards that can hold a reading.
func guardWords() (words []string) {
	for _, kind := range guard.Kinds() {
		words = append(words, kind.Word)
	}
	return words
}

// show prints what was held or judged.
func (o *reviewOptions) show(cmd *cobra.Command) error {
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		all, err := d.Judgements(cmd.Context(), o.of)
		if err != nil {
			return err
		}
		if len(all) == 0 && o.placed {
			if err := printLine(cmd.ErrOrStderr(), "note no reading matches all these flags"); err != nil {
				return err
			}
			if o.list.format == "table" {
				return nil
			}
		}
		if o.list.format == "table" && !o.inDetail() {
			return listSpots(pageOf(cmd), all)
		}
		return listJudged(pageOf(cmd), o.list.format, o.columns, all)
	})
}

// inDetail reports whether the table is to have a row for each reading.
func (o *reviewOptions) inDetail() bool {
	return o.explain || len(o.list.named) > 0 || len(o.of.Numbers) > 0 || len(o.of.Spots) > 0
}

// check refuses a wrong call and completes the selection.
func (o *reviewOptions) check(cmd *cobra.Command, args []string) error {
	err := o.list.check(cmd)
	if err != nil {
		return err
	}
	if o.columns, err = shown.Judged().Choose(o.list.format, o.list.named); err != nil {
		return err
	}
	numbers, err := numberSpans(args, "reading", "wane review")
	if err != nil {
		return err
	}
	o.of.Numbers = numbers.Numbers()
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	o.of.Filter = o.filter.of
	if cmd.Flags().Changed("angle") {
		angle, err := strconv.ParseFloat(o.angle, 64)
		if err != nil || math.IsNaN(angle) {
			return usagef("write degrees from the normal, for example --angle 8", "--angle: %q is not a number", o.angle)
		}
		o.of.AngleDeg = study.Num(angle)
	}
	if err := o.of.Check(); err != nil {
		return err
	}
	for _, name := range []string{"coupon", "pull", "spot", "coating", "angle", "polarisation", "session", "flagged"} {
		o.placed = o.placed || cmd.Flags().Changed(name)
	}
	judging := o.release || o.aside
	switch {
	case o.release && o.aside:
		return usagef("leave one of them out", "--release and --aside cannot be used together")
	case judging && cmd.Flags().Changed("why") && strings.TrimSpace(o.why) == "":
		return usagef("give the reason in a full sentence: --why TEXT",
			"--why is empty")
	case judging && o.why == "":
		return usagef("give the reason in a full sentence: --why TEXT",
			"--why is not given")
	case judging && len(args) == 0 && !o.placed:
		return usagef("give numbers that `wane review` lists, or a place: --coupon, --pull, --spot and so on",
			"no reading is named")
	case !judging && o.why != "":
		return usagef("add --release or --aside", "--why is given without --release or --aside")
	case len(args) > 0 && o.placed:
		return usagef("leave the numbers or the flags out", "readings are named both by number and by place")
	}
	return nil
}

// spotColumns are the columns of the table in which the readings of a spot are one row.
var spotColumns = listing[[]*desk.Judged]{
	cellColumn("coupon", 1, "", func(of []*desk.Judged) string { return of[0].Coupon }),
	cellColumn("pull", 1, "", func(of []*desk.Judged) string { return strconv.Itoa(of[0].Pull) }),
	cellColumn("spot", 1, "", func(of []*desk.Judged) string { return of[0].Spot }),
	cellColumn("condition", 6, "", func(of []*desk.Judged) string { return dash(of[0].Condition) }),
	cellColumn("readings", 1, "", func(of []*desk.Judged) string {
		return countWords(of, func(j *desk.Judged) []string { return []string{j.Standing.Words()} })
	}).Folded(12),
	cellColumn("numbers", 1, "", numberWords).Folded(16),
	cellColumn("guards", 1, "held by guards",
		func(of []*desk.Judged) string { return dash(countWords(of, shown.GuardsOf)) }).Folded(16),
	cellColumn("reviewer", 3, "reviewed by", func(of []*desk.Judged) string {
		return dash(eachOf(of, func(j *desk.Judged) string { return shown.LastReview(j).Line.Who }))
	}).Folded(12),
	cellColumn("why", 2, "", func(of []*desk.Judged) string {
		return dash(eachOf(of, func(j *desk.Judged) string { return shown.LastReview(j).Why }))
	}).Folded(20),
}

// countWords counts each word of readings, in the order in which they come: "3 held, 1 set aside".
func countWords(of []*desk.Judged, words func(*desk.Judged) []string) string {
	counts := map[string]int{}
	var order, parts []string
	for _, j := range of {
		for _, w := range words(j) {
			if counts[w] == 0 {
				order = append(order, w)
			}
			counts[w]++
		}
	}
	for _, w := range order {
		parts = append(parts, fmt.Sprintf("%d %s", counts[w], w))
	}
	return strings.Join(parts, ", ")
}

// eachOf puts together what is said of readings, each once.
func eachOf(of []*desk.Judged, says func(*desk.Judged) string) string {
	var all []string
	for _, j := range of {
		if word := says(j); word != "" {
			all = addOnce(all, word)
		}
	}
	return strings.Join(all, "; ")
}

// numberWords names readings by their numbers, as review takes them: "17-20 33".
func numberWords(of []*desk.Judged) string {
	numbers := make([]int64, len(of))
	for i, j := range of {
		numbers[i] = j.Number
	}
	return desk.SpanWords(numbers)
}

// listSpots prints a row for each spot of which readings were held or judged.
func listSpots(p page, all []desk.Judged) error {
	if len(all) == 0 {
		return writeLine(p, "all readings enter results: none is held, none is set aside")
	}
	out := openRows(spotColumns, p, "table")
	out.table.remedy = "a wider terminal shows them"
	for _, of := range shown.BySpot(all) {
		if err := out.write(of); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	return writeLine(p, "wane review --explain lists each reading, and why it is held")
}

// listJudged prints a row for each reading.
func listJudged(p page, format string, columns listing[*desk.Judged], all []desk.Judged) error {
	if len(all) == 0 && format == "table" {
		return listSpots(p, nil)
	}
	if format == "table" {
		columns = reasonsOnce(columns)
	}
	out := openRows(columns, p, format)
	for i := range all {
		if err := out.write(&all[i]); err != nil {
			return err
		}
	}
	return out.end()
}

// reasonsOnce returns the columns for one table, in which the reasons of a reading are written out
// once: a later reading with the same reasons names the first.
func reasonsOnce(columns listing[*desk.Judged]) listing[*desk.Judged] {
	first := map[string]int64{} // reading by its reasons
	columns = slices.Clone(columns)
	for i := range columns {
		if columns[i].Name != "held_for" {
			continue
		}
		columns[i].Cell = func(j *desk.Judged) string {
			reasons := study.HoldWords(j.Holds)
			if reasons == "" {
				return dash("")
			}
			if number, known := first[reasons]; known && number != j.Number {
				return fmt.Sprintf("as reading %d", number)
			}
			first[reasons] = j.Number
			return reasons
		}
	}
	return columns
}
