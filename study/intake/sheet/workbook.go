package sheet

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"

	"wane/study/intake/workbook"
)

// content returns the text of a table: of a workbook the lines of the sheet that its name has behind #, or of its only
// one; else from as it is.
func content(file string, from io.Reader) (io.Reader, error) {
	whole := bufio.NewReader(from)
	start, err := whole.Peek(8)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, unreadable(file, err)
	}
	if !workbook.Is(start) {
		return whole, nil
	}
	data, err := io.ReadAll(whole)
	if err != nil {
		return nil, unreadable(file, err)
	}
	text, err := textOf(file, data)
	return bytes.NewReader(text), err
}

// Content returns what a reader goes through of the table in a file of so many bytes: the file, or if it is a workbook
// the lines of its sheet, as [NewReader] has them.
func Content(file string, from io.ReaderAt, size int64) (io.ReaderAt, int64, error) {
	start := make([]byte, 8)
	n, err := from.ReadAt(start, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, 0, unreadable(file, err)
	}
	if !workbook.Is(start[:n]) {
		return from, size, nil
	}
	data, err := io.ReadAll(io.NewSectionReader(from, 0, size))
	if err != nil {
		return nil, 0, unreadable(file, err)
	}
	text, err := textOf(file, data)
	return bytes.NewReader(text), int64(len(text)), err
}

func textOf(file string, data []byte) ([]byte, error) {
	_, sheet := workbook.Split(file)
	return workbook.Text(file, sheet, data, workbook.Comma)
}

// ReadEachMeasured is [ReadMeasured] for a file whose sheet nobody names: of a workbook it reads all sheets that are
// such tables.
func ReadEachMeasured(name string, data []byte) (lines []Line[Measured], err error) {
	if !workbook.Is(data) {
		lines, _, err = ReadMeasured(name, data)
		return lines, err
	}
	sheets, err := workbook.Sheets(name, data)
	if err != nil {
		return nil, err
	}
	var refused error
	for _, s := range sheets {
		some, _, err := ReadMeasured(strings.TrimSuffix(name, "#")+"#"+s, data)
		lines, refused = append(lines, some...), errors.Join(refused, err)
	}
	if len(lines) == 0 {
		return nil, refused
	}
	return lines, nil
}
