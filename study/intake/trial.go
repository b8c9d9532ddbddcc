package intake

import (
	"cmp"
	"errors"

	"wane/study"
	"wane/study/intake/text"
)

// mostTrials is how often [ReadTrying] reads an export, with one set of answers each.
const mostTrials = 100

// ReadTrying reads an export with the first answers that make it readable, and returns what it
// leaves open with the answer that was tried. An export that cannot be read whatever is
// answered gives its refusal, a [*study.Refusal].
func ReadTrying(name string, data []byte) (*Export, []study.Answered, error) {
	t := &trial{name: name, data: data}
	if x := t.settle(text.Stated{}); x != nil {
		return x, t.asked, nil
	}
	return nil, nil, t.refusal
}

// trial is an export that is read with answers in turn.
type trial struct {
	name    string
	data    []byte
	reads   int
	refusal *study.Refusal   // of the export as it is
	asked   []study.Answered // on the way to the reading that is shown
}

// settle reads the export with the first answers beside those stated that make it readable;
// nil if there are none.
func (t *trial) settle(stated text.Stated) *Export {
	if t.reads++; t.reads > mostTrials {
		return nil
	}
	x, err := Read(t.name, t.data, stated)
	if err == nil {
		return x
	}
	var refusal *study.Refusal
	if !errors.As(err, &refusal) {
		return nil
	}
	if t.refusal == nil {
		t.refusal = refusal
	}
	for _, c := range refusal.Choices {
		c.Value = cmp.Or(c.Value, "reference")
		next := stated
		if next.Set(c.Name, c.Value) != nil {
			continue // it contradicts what was tried
		}
		t.asked = append(t.asked, study.Answered{Question: refusal, Answer: c})
		if x := t.settle(next); x != nil {
			return x
		}
		t.asked = t.asked[:len(t.asked)-1]
	}
	return nil
}
