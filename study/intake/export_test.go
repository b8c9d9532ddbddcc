package intake

import "bytes"

// ReadMap reads a map into memory. Every error is a [*study.Refusal].
func ReadMap(name string, data []byte) ([]Line[Placing], error) {
	var lines []Line[Placing]
	r, err := newSheetReader(name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	err = eachPlacing(r, func(row *sheetRow, p Placing) error {
		lines = append(lines, Line[Placing]{name, row.line, p})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return lines, nil
}
