package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// Lines outside the rows that name another quantity than reflectance, or say that
// nothing was compared to a reference. They may speak of other things than the values,
// so that a person has to say so for each line: --declared.

// otherLine is such a line.
type otherLine struct {
	quantity study.Quantity
	text     string
	at       text.Position
	sure     bool // it says nothing else, as Technique: Absorbance does and prose does not
}

// isUnreferenced reports whether the line names what is measured without a reference.
func (o otherLine) isUnreferenced() bool {
	return heading.IsAny(o.quantity, heading.Unreferenced, heading.Counts, heading.Irradiance, heading.Raw)
}

// noteOther keeps a line if it names another quantity.
func (h *header) noteOther(line outsideLine) {
	s := strings.TrimSpace(line.text)
	if len(s) > heading.MostInHeading {
		s = s[:heading.MostInHeading]
	}
	found := otherLine{text: s, at: text.Position{Line: line.Number}}
	for _, part := range heading.StatementsIn(s) {
		if q, sure := heading.OtherQuantity(strings.TrimSpace(part)); q != "" &&
			(found.quantity == "" || sure && !found.sure) {
			found.quantity, found.sure = q, sure
		}
	}
	for _, pair := range pairsIn(s) {
		if q, sure := heading.OtherQuantity(pair); sure && !found.sure {
			found.quantity, found.sure = q, sure
		}
	}
	if found.quantity != "" {
		h.others = append(h.others, found)
	}
}

// pairsIn returns the keys with their values of a line that holds several in cells of their
// own: Sample, G07, Mode, %T.
func pairsIn(text string) (pairs []string) {
	for _, sep := range []string{";", ",", "\t"} {
		cells := slices.DeleteFunc(strings.Split(text, sep), func(c string) bool { return strings.TrimSpace(c) == "" })
		if len(cells) < 4 || len(cells)%2 != 0 {
			continue
		}
		for i := 0; i < len(cells); i += 2 {
			pairs = append(pairs, strings.Trim(cells[i], " \"")+":"+cells[i+1])
		}
	}
	return pairs
}

// noteOthersElsewhere keeps such lines behind the rows, and, if one of several blocks is
// read, before the first one and behind the last one, which may speak of all: nothing
// there is sure. It returns the header with them, and the latter lines.
func (r grid) noteOthersElsewhere(h header, after []outsideLine) (_ header, elsewhere []outsideLine, err error) {
	note := func(lines []outsideLine, ofAll bool) {
		for _, l := range lines {
			if r.overrules(l.Number) || ofAll && headsWavelengths(l.text) {
				continue
			}
			known := len(h.others)
			h.noteOther(l)
			for i := range h.others[known:] {
				h.others[known+i].sure = !ofAll && h.others[known+i].sure
			}
		}
	}
	if r.want.Block == 0 {
		note(after, false)
		return h, nil, nil
	}
	all := r.blocks()
	first, last := all[0], all[len(all)-1]
	if r.block.start == last.start {
		note(after, false)
	} else if elsewhere, err = r.outside(last.end, len(r.src.Text), last.last); err != nil {
		return h, nil, err
	}
	if r.block.start != first.start {
		top, err := r.outside(0, first.start, 1)
		if err != nil {
			return h, nil, err
		}
		elsewhere = append(top, elsewhere...)
	}
	note(elsewhere, true)
	return h, elsewhere, nil
}

// headsWavelengths reports whether a line is one of headings, of another block.
func headsWavelengths(text string) bool {
	for _, sep := range []byte(",;\t") {
		for _, c := range cutCells(text, sep) {
			if len(c.text) < len(text) && heading.Parse(c.text).IsX() {
				return true
			}
		}
	}
	return false
}

const (
	mostQuoted = 3   // lines of a kind in a message
	mostOfLine = 100 // characters of each
)

// quotedLines writes what lines say: line 3 says "Technique,Transmission".
func quotedLines(others []otherLine) string {
	var says []string
	for i, o := range others {
		if i == mostQuoted {
			says = append(says, text.Count(len(others)-i, "more line")+" such as these")
			break
		}
		says = append(says, fmt.Sprintf("line %d says %s", o.at.Line, strconv.Quote(text.CutAt(o.text, mostOfLine))))
	}
	return text.Joined(says, "and")
}
