package intake

import "bytes"

// ReadMap reads a map into memory. Every error is a [*study.Refusal].
func ReadMap(name string, data []byte) ([]Line[MapRow], error) {
	var lines []Line[MapRow]
	r, err := newSheetReader(name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	err = eachMapRow(r, func(row *sheetRow, p MapRow) error {
		lines = append(lines, Line[MapRow]{name, row.line, p})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return lines, nil
}
