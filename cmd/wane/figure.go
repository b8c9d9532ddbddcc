package main

import (
	"bytes"
	"io"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/report"
)

// figure is what report draws.
type figure interface {
	// Write draws it in one of the formats of report.
	Write(w io.Writer, format string) error
}

// checkFigure refuses a name without a known ending; empty is no figure.
func checkFigure(path string) error {
	if path == "" {
		return nil
	}
	if _, err := report.FormatOf(path); err != nil {
		return usagef("name it .svg, .png or .pdf", "--figure %s: %w", path, err)
	}
	return nil
}

// numbered is the name of one of several figures: chart-2.svg.
func numbered(path string, n int) string {
	ending := filepath.Ext(path)
	return strings.TrimSuffix(path, ending) + "-" + strconv.Itoa(n) + ending
}

// noteWritten says on stderr that a figure was written: the listing is on stdout.
func noteWritten(cmd *cobra.Command, path string) error {
	return printLine(cmd.ErrOrStderr(), "note wrote %s", study.Shown(path))
}

// drawFigure writes a figure of a study, which gets the permissions of the study, and says so.
func drawFigure(cmd *cobra.Command, d *desk.Desk, path string, f figure) error {
	mode, err := d.Mode()
	if err != nil {
		return err
	}
	if err := writeFigure(path, f, mode); err != nil {
		return err
	}
	return noteWritten(cmd, path)
}

// writeFigure draws f into the file named path, whose ending is the format, with the
// permissions of mode; 0 leaves them as they were, or to the system.
func writeFigure(path string, f figure, mode fs.FileMode) error {
	format, err := report.FormatOf(path)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := f.Write(&buf, format); err != nil {
		return err
	}
	return desk.WriteFile(path, mode, buf.Bytes())
}
