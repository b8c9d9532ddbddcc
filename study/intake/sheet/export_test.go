package sheet

import "bytes"

// ReadMap reads a map into memory. Every error is a [*study.Refusal].
func ReadMap(name string, data []byte) ([]Line[MapRow], error) {
	var lines []Line[MapRow]
	r, err := NewReader(name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	err = EachMapRow(r, func(row *Row, p MapRow) error {
		lines = append(lines, Line[MapRow]{name, row.Line, p})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return lines, nil
}
