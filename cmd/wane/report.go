package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/report/document"
	"wane/study/series"
	"wane/study/web"
)

const reportLong = `Write the report of the study: one HTML page that needs nothing else, for a browser and for
paper (print it from the browser, on A4 or Letter), and every table of it as CSV, in a folder
beside the page: report.html has its tables in report-tables. The page names each of these files
with its SHA-256, so that the hash of the page, which is printed, stands for all.

First come the verdicts, each with its rule, the day on which the rule was fixed, and the one
sentence that may be quoted. Where a rule is younger than the data, 'after the fact' is on every
page. Then come comparisons, changes, the design, the sessions with their control charts, what was
corrected, moved, set aside and why, lost coupons, the method, limits and assumptions, and where
everything is from: versions, checksums, and the last line of the history.

--for chooses order and depth:
  lab         sessions, readings that are held or set aside, and corrections come first
  research    method, covariance and parameters come first
  purchasing  verdicts, comparisons and limits; what is not shown is counted

--quantity chooses the quantity of comparisons, and --by the groups: coating, lot, supplier or
exposure. Where something cannot be said of these data, the report has the reason.

A page and its folder are replaced if a report made them. Nothing in the study changes.
`

// The readers that a report can be for; empty: whoever audits it, who sees everything.
var audiences = []string{"lab", "research", "purchasing"}

type reportOptions struct {
	study                  studyOptions
	audience, by, quantity string
	notice                 string // that must not be overlooked, on each page
}

func newReportCommand() *cobra.Command {
	o := &reportOptions{}
	cmd := &cobra.Command{
		Use: "report FILE.html", Short: "the document: verdicts, comparisons, design, history, in one page",
		Long: reportLong + exitCodes,
		Example: "  wane report report.html\n  wane report offer.html --for purchasing --by supplier\n" +
			"  wane report week.html --for lab",
		Args: exactly(1, "name the page to write: wane report report.html"),
		RunE: func(cmd *cobra.Command, args []string) error { return runReport(cmd, o, args[0]) },
	}
	o.study.bind(cmd)
	f := cmd.Flags()
	f.StringVar(&o.audience, "for", "", "who reads it: lab, research or purchasing (default: everything)")
	f.StringVar(&o.by, "by", string(ageing.ByCoating), "the groups: coating, lot, supplier or exposure")
	f.StringVar(&o.quantity, "quantity", "solar_T", "what is compared and followed: "+strings.Join(series.Names(), ", "))
	completeWords(cmd, map[string][]string{"for": audiences, "by": groupings(), "quantity": series.Names()})
	return cmd
}

func runReport(cmd *cobra.Command, o *reportOptions, path string) error {
	if cmd.Flags().Changed("for") {
		if err := oneOf("for", o.audience, audiences); err != nil {
			return err
		}
	}
	if err := o.check(); err != nil {
		return err
	}
	if ending := strings.ToLower(filepath.Ext(path)); ending != ".html" {
		return usagef("name it .html: wane report report.html", "the report is a page, and %s does not end in .html",
			study.Shown(path))
	}
	defer holdWhole()()
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		out, err := writeReport(cmd.Context(), d, o, path)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(out.Page)
		return printLine(cmd.OutOrStdout(), "wrote %s and %s in %s; SHA-256 of the page: %s", study.Shown(path),
			count(len(out.Tables), "table"), study.Shown(out.Folder), hex.EncodeToString(sum[:]))
	})
}

// check refuses a report of groups or of a quantity that there are not.
func (o *reportOptions) check() error {
	if err := oneOf("by", o.by, groupings()); err != nil {
		return err
	}
	if _, known := series.Find(o.quantity); !known {
		return usagef(study.DidYouMean(o.quantity, series.Names(), "use one of "+strings.Join(series.Names(), ", ")),
			"--quantity: there is no quantity %q", o.quantity)
	}
	return nil
}

// reportForPages makes a report for the study pages.
func reportForPages(ctx context.Context, d *desk.Desk, of web.ReportWanted) (*web.Report, error) {
	o := &reportOptions{audience: of.For, by: of.By, quantity: of.Quantity}
	if o.audience != "" {
		if err := oneOf("for", o.audience, audiences); err != nil {
			return nil, refusalOf(err)
		}
	}
	if err := o.check(); err != nil {
		return nil, refusalOf(err)
	}
	out, err := makeReport(ctx, d, o, "report-tables")
	if err != nil {
		return nil, err
	}
	return &web.Report{Page: out.Page, Folder: out.Folder, Tables: out.Tables}, nil
}

// refusalOf is a wrong use as a refusal.
func refusalOf(err error) error {
	var usage *usageError
	if errors.As(err, &usage) {
		return &study.Refusal{Fault: usage.Error(), Try: usage.try}
	}
	return err
}

// writeReport writes the page and its tables.
func writeReport(ctx context.Context, d *desk.Desk, o *reportOptions, path string) (*desk.ReportPage, error) {
	out, err := makeReport(ctx, d, o, strings.TrimSuffix(path, filepath.Ext(path))+"-tables")
	if err != nil {
		return nil, err
	}
	out.Path = path
	return out, d.WriteReport(ctx, out)
}

// makeReport makes the page and its tables, which are to be in a folder beside it.
func makeReport(ctx context.Context, d *desk.Desk, o *reportOptions, folder string) (*desk.ReportPage, error) {
	w, err := newReporter(ctx, d, o)
	if err != nil {
		return nil, err
	}
	doc, err := w.document()
	if err != nil {
		return nil, err
	}
	if err := d.Unchanged(ctx, w.of); err != nil {
		return nil, err
	}
	var page bytes.Buffer
	if err := doc.HTML(&page, filepath.Base(folder)); err != nil {
		return nil, err
	}
	out := &desk.ReportPage{Begin: document.Begin, Page: page.Bytes(), Folder: folder}
	for _, t := range doc.Tables() {
		out.Tables = append(out.Tables, desk.ReportTable{Name: t.FileName(), CSV: t.CSV})
	}
	return out, nil
}
