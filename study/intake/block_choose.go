package intake

import (
	"fmt"
	"strconv"

	"wane/study"
	"wane/study/intake/text"
)

// window is the stretch of the text that belongs to the block that is read: all,
// or from the end of the block before it to the start of the one behind.
type window struct{ start, line, end int }

// leastRows is how many rows make a block that can be asked for: one may be a
// setting.
const leastRows = 2

// mostBlocks is how many blocks are distinguished.
const mostBlocks = 1000

// blocks returns the blocks of rows that a person may ask for.
func (r decoded) blocks() []block {
	var all []block
	for run := range runs(r.src.Text) {
		if run.rows < leastRows {
			continue
		}
		if all = append(all, run); len(all) == mostBlocks {
			break
		}
	}
	return all
}

// chooseBlock finds the block to read: the one asked for, or else the longest.
func (r decoded) chooseBlock() (section, error) {
	s := section{decoded: r, window: window{0, 1, len(r.src.Text)}}
	if r.want.Block == 0 {
		s.block = findBlock(r.src.Text)
		return s, nil
	}
	all := r.blocks()
	k := r.want.Block - 1
	if k >= len(all) {
		return s, r.Refuse(text.Nowhere, "leave --block out, or state one that exists",
			"--block is stated as %d, and the file has %s of rows",
			r.want.Block, text.Count(len(all), "block"))
	}
	s.block = all[k]
	if k > 0 {
		s.window.start, s.window.line = all[k-1].end, all[k-1].last
	}
	if k+1 < len(all) {
		s.window.end = all[k+1].start
	}
	return s, nil
}

func blockChoices(all []block) []study.Choice {
	var choices []study.Choice
	for i, b := range all {
		choices = append(choices, study.Choice{Name: "block", Value: strconv.Itoa(i + 1),
			Meaning: fmt.Sprintf("%s, lines %d to %d", text.Count(b.rows, "row"), b.line, b.last)})
		if len(choices) == 20 {
			break
		}
	}
	return choices
}
