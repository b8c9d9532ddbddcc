package placing

import (
	"bytes"

	"wane/study/intake/sheet"
)

// ReadLines reads the rows of a map into memory. Every error is a [*study.Refusal].
func ReadLines(name string, data []byte) ([]sheet.Line[Placing], error) {
	var lines []sheet.Line[Placing]
	r, err := sheet.NewReader(name, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	err = sheet.EachMapRow(r, func(row *sheet.Row, p sheet.MapRow) error {
		lines = append(lines, sheet.Line[Placing]{File: name, Number: row.Line, Row: Placing{MapRow: p}})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return lines, nil
}
