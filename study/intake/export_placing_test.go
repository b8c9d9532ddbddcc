package intake

import "bytes"

// ReadLines reads the rows of a map into memory. Every error is a [*study.Refusal].
func ReadLines(name string, data []byte) ([]Line[Placing], error) {
	var lines []Line[Placing]
	r, err := newSheetReader(name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	err = eachMapRow(r, func(row *sheetRow, p MapRow) error {
		lines = append(lines, Line[Placing]{name, row.line, Placing{MapRow: p}})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return lines, nil
}
