package desk

import (
	"bytes"
	"context"

	"wane/study/store"
	"wane/study/table"
)

// ExportWorkbook writes the tables of [Desk.Export] into one workbook (.xlsx), a sheet for each, but for the spectra,
// whose points no sheet holds. The file appears when it is whole. The same study gives the same bytes.
func (d *Desk) ExportWorkbook(ctx context.Context, path string, history bool) (*Exported, error) {
	mode, err := d.Mode()
	if err != nil {
		return nil, err
	}
	out, book := &Exported{Files: 1}, table.NewWorkbook()
	err = d.store.View(ctx, func(v *store.View) error {
		w := &exportWriter{ctx: ctx, desk: d, opt: ExportOptions{History: history}}
		all, err := w.tables(v)
		if err != nil {
			return err
		}
		spectra := w.spectra(v).name
		for _, t := range all {
			if t.name == spectra {
				continue
			}
			if err := writeSheet(book, t); err != nil {
				return err
			}
			out.Tables++
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	var data bytes.Buffer
	if err := book.Write(&data); err != nil {
		return nil, err
	}
	out.Bytes = int64(data.Len())
	return out, WriteFile(path, mode, data.Bytes())
}

func writeSheet(book *table.Workbook, t exportTable) error {
	w, err := book.Sheet(t.name, t.fields)
	if err != nil {
		return err
	}
	if err := t.rows(w.Write); err != nil {
		return err
	}
	return w.Close()
}
