package main

import (
	"bytes"
	"os"

	"wane/study"
	"wane/study/report"
)

// writeFigure draws figure into the file named path, whose ending is the format.
func writeFigure(path string, figure *report.Fit) error {
	format, err := report.FormatOf(path)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := figure.Write(&buf, format); err != nil {
		return err
	}
	if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
		return &study.Refusal{File: path, Fault: "could not write the figure", Try: "check the folder and its rights", Cause: err}
	}
	return nil
}
