package main

import (
	"bytes"
	"io"
	"os"

	"wane/study"
	"wane/study/report"
)

// figure is what report draws.
type figure interface {
	// Write draws it in the format "svg" or "png".
	Write(w io.Writer, format string) error
}

// checkFigure refuses a name without a known ending; empty is no figure.
func checkFigure(path string) error {
	if path == "" {
		return nil
	}
	if _, err := report.FormatOf(path); err != nil {
		return usagef("name it .svg or .png", "--figure %s: %v", path, err)
	}
	return nil
}

// writeFigure draws f into the file named path, whose ending is the format.
func writeFigure(path string, f figure) error {
	format, err := report.FormatOf(path)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := f.Write(&buf, format); err != nil {
		return err
	}
	if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
		return &study.Refusal{File: path, Fault: "could not write the figure", Try: "check the folder and its rights", Cause: err}
	}
	return nil
}
