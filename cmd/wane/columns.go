package main

import (
	"bufio"
	"io"
	"unicode/utf8"

	"wane/study"
)

// columnWriter lays out rows of cells in columns, a block of rows at a time, each
// under the heading: so that a listing of any length streams.
type columnWriter struct {
	out     *bufio.Writer
	heading []string
	cells   []string // of the block, row after row
}

// tableBlock is how many rows are laid out together.
const tableBlock = 500

func newColumnWriter(w io.Writer, heading ...string) *columnWriter {
	return &columnWriter{out: bufio.NewWriter(w), heading: heading}
}

// row adds a row of as many cells as the heading has. A cell that would hide something is
// quoted.
func (c *columnWriter) row(cells ...string) error {
	if len(cells) != len(c.heading) {
		panic("columnWriter: as many cells as columns")
	}
	for _, cell := range cells {
		c.cells = append(c.cells, study.Shown(cell))
	}
	if len(c.cells) < tableBlock*len(c.heading) {
		return nil
	}
	return c.flush()
}

// flush writes the rows that are there.
func (c *columnWriter) flush() error {
	if len(c.cells) == 0 {
		return c.out.Flush()
	}
	n := len(c.heading)
	rows := append(append([]string(nil), c.heading...), c.cells...)
	widths := make([]int, n)
	for i, cell := range rows {
		widths[i%n] = max(widths[i%n], utf8.RuneCountInString(cell))
	}
	var line []byte
	for ; len(rows) > 0; rows = rows[n:] {
		line = line[:0]
		for i, cell := range rows[:n] {
			line = append(line, cell...)
			for pad := widths[i] + 2 - utf8.RuneCountInString(cell); pad > 0; pad-- {
				line = append(line, ' ')
			}
		}
		end := len(line)
		for end > 0 && line[end-1] == ' ' {
			end--
		}
		if _, err := c.out.Write(append(line[:end], '\n')); err != nil {
			return err
		}
	}
	c.cells = c.cells[:0]
	return c.out.Flush()
}
