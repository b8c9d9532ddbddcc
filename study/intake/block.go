package intake

import (
	"iter"

	"wane/study/intake/text"
)

// block is the longest run of lines of one shape: the data.
type block struct {
	line, last int   // numbers of its first and its last line, from 1
	rows       int   // lines that are not blank
	start, end int   // its bytes, from the first row to the end of the last
	skip       int   // the number of a line among them that holds units, or 0
	shape      marks // tab or semicolon if every row holds one, or 0
	seen       marks // the kinds of all its bytes
}

// shapeOf returns the separator that settles by itself the shape of a line.
func shapeOf(seen marks) marks {
	if seen&markSemicolon != 0 {
		return markSemicolon
	}
	return seen & markTab
}

// findBlock returns the longest run of lines that can be rows and share a
// shape, the first of several. Blank lines do not interrupt it.
func findBlock(text []byte) block {
	var best block
	for run := range runs(text) {
		if run.rows > best.rows {
			best = run
		}
	}
	return best
}

// runs yields the runs of lines that can be rows and share a shape.
func runs(content []byte) iter.Seq[block] {
	return func(yield func(block) bool) {
		var run block
		for l := range text.Lines(content, 1) {
			seen := marksIn(l.Text)
			row, starts := mayBeRow(l.Text, seen)
			if !row || run.rows == 0 || shapeOf(seen) != run.shape {
				if run.rows > 0 && !yield(run) {
					return
				}
				run = block{line: l.Number, start: l.Start, shape: shapeOf(seen)}
			}
			if row && (starts || run.rows > 0) {
				run.rows++
				run.end, run.last = l.Start+len(l.Text), l.Number
				run.seen |= seen
			}
		}
		if run.rows > 0 {
			yield(run)
		}
	}
}

// rows yields the rows of the block.
func (r section) rows() iter.Seq[text.Line] {
	all := text.Lines(r.src.Text[r.block.start:r.block.end], r.block.line)
	if r.block.skip == 0 {
		return all
	}
	return func(yield func(text.Line) bool) {
		for l := range all {
			if l.Number != r.block.skip && !yield(l) {
				return
			}
		}
	}
}
