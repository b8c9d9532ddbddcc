package desk

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wane/study"
	"wane/study/store"
	"wane/study/table"
)

// The parts of an exported folder, beside a folder for each format.
const (
	exportReadme    = "README.md"
	exportOriginals = "originals"
	exportRows      = "rows"
)

// ExportOptions say what an export has beside what it always has.
type ExportOptions struct {
	Formats []string // of the tables, of [table.Formats]; none: all of them
	History bool     // superseded rows too

	Progress Progress // gets how many spectra, originals and rows are written; may be nil
}

// Exported counts what was written.
type Exported struct {
	Files, Tables int
	Bytes         int64
	Notes         []string // files that got another name than they had
}

// Export writes everything that the study contains, as it is at one moment, into a folder: its tables in
// open formats, the files that it keeps, all its rows as they are stored, from which [Rebuild] makes an
// equal study, a page that says what all columns mean, and SHA256SUMS. Results are those of
// [Desk.Results].
//
// The folder may be new or empty, or an export of this study that was made before and not changed since,
// which is replaced. It appears when it is whole; after an error nothing has changed. The same study gives
// the same bytes.
func (d *Desk) Export(ctx context.Context, folder string, opt ExportOptions) (*Exported, error) {
	if len(opt.Formats) == 0 {
		opt.Formats = table.Formats()
	}
	if err := d.mayReplace(ctx, folder); err != nil {
		return nil, err
	}
	mode, err := d.Mode()
	if err != nil {
		return nil, err
	}
	out := &Exported{}
	err = store.ReplaceFolder(folder, folderMode(mode), func(temporary string) error {
		w := &exportWriter{ctx: ctx, desk: d, folder: temporary, mode: mode, opt: opt, out: out}
		return d.store.View(ctx, w.write)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// exportWriter writes the files of an export.
type exportWriter struct {
	ctx    context.Context
	desk   *Desk
	folder string
	mode   fs.FileMode // of the files
	opt    ExportOptions
	sums   []string // lines for SHA256SUMS
	out    *Exported

	done, total, shown int64 // spectra, originals and rows
}

func (w *exportWriter) write(v *store.View) error {
	steps := []func(*store.View) error{w.count, w.writeTables, w.writeOriginals, w.writeRows, w.writeSums}
	for _, step := range steps {
		if err := step(v); err != nil {
			return err
		}
	}
	return nil
}

// count counts what is to be written, but for the tables that are small beside these.
func (w *exportWriter) count(v *store.View) error {
	rows, readings, err := v.CountRows()
	if err != nil {
		return err
	}
	files, err := v.Files()
	w.total = rows + readings + int64(len(files))
	return err
}

// step notes that something more was written. Readings that were moved have no spectrum without history.
func (w *exportWriter) step(n int64) {
	const often = 200 // times that it is shown
	w.done += n
	if n > 0 && w.opt.Progress != nil && (w.done-w.shown > w.total/often || w.done == w.total) {
		w.shown = w.done
		w.opt.Progress(int(w.done), int(w.total))
	}
}

// exportTable is a table of the export: its columns, and what hands its rows over.
type exportTable struct {
	name, about string
	fields      []study.Field
	rows        func(yield func(cells []any) error) error
}

// tables returns the tables of the export in their order.
func (w *exportWriter) tables(v *store.View) ([]exportTable, error) {
	listings, err := v.Listings(w.opt.History)
	if err != nil {
		return nil, err
	}
	all := []exportTable{w.results(v), w.spectra(v)}
	for _, l := range listings {
		all = append(all, exportTable{l.Name, l.About, l.Fields, func(yield func([]any) error) error {
			return v.EachListed(l, yield)
		}})
	}
	return all, nil
}

func (w *exportWriter) results(v *store.View) exportTable {
	columns := study.Columns()
	return exportTable{"results", "what is known of one coupon at one pull and spot, as `wane results` prints it",
		table.OfResults(columns), func(yield func([]any) error) error {
			cells := make([]any, len(columns))
			roster, err := v.Roster()
			if err != nil {
				return err
			}
			return w.desk.results(w.ctx, v, roster, ResultsOptions{}, func(r *study.Result) error {
				table.ResultCells(cells, columns, r)
				return yield(cells)
			})
		}}
}

func (w *exportWriter) spectra(v *store.View) exportTable {
	columns := SpectrumColumns()
	fields := make([]study.Field, len(columns))
	for i := range columns {
		fields[i] = columns[i].Field
	}
	return exportTable{"spectra", "a spectrum; in CSV, each of its points has a row", fields,
		func(yield func([]any) error) error {
			cells := make([]any, len(columns))
			return spectraOf(w.ctx, v, nil, w.opt.History, func(s *Spectrum) error {
				for i := range columns {
					cells[i] = columns[i].Cell(s)
				}
				w.step(1)
				return yield(cells)
			})
		}}
}

// writeTables writes the tables in all formats, each row in all of them before the next one, and the
// page about them.
func (w *exportWriter) writeTables(v *store.View) error {
	all, err := w.tables(v)
	if err != nil {
		return err
	}
	for _, t := range all {
		if err := w.writeTable(t); err != nil {
			return err
		}
	}
	w.out.Tables = len(all)
	return w.writeFile(exportReadme, []byte(readmeOf(all, w.opt)))
}

func (w *exportWriter) writeTable(t exportTable) (err error) {
	var files []io.Closer
	var writers []table.Writer
	defer func() {
		for _, f := range files {
			if closed := f.Close(); err == nil {
				err = closed
			}
		}
	}()
	for _, format := range w.opt.Formats {
		f, err := w.create(path.Join(format, t.name+"."+format))
		if err != nil {
			return err
		}
		files = append(files, f)
		writers = append(writers, table.New(f, format, t.fields))
	}
	err = t.rows(func(cells []any) error {
		for _, out := range writers {
			if err := out.Write(cells); err != nil {
				return err
			}
		}
		return nil
	})
	for _, out := range writers {
		if err == nil {
			err = out.Close()
		}
	}
	return err
}

// writeOriginals writes the files that the study keeps, byte for byte.
func (w *exportWriter) writeOriginals(v *store.View) error {
	kept, err := v.Files()
	if err != nil {
		return err
	}
	files := make([]store.KeptFile, len(kept))
	for i := range kept {
		files[i] = kept[i].Row
	}
	named := newOriginalsWriter("", w.mode, files)
	w.out.Notes = named.out.Notes
	for i, f := range files {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		e, err := w.desk.store.Original(w.ctx, f.SHA256)
		if err != nil {
			return err
		}
		if err := w.writeFile(path.Join(exportOriginals, named.names[i]), e.Data); err != nil {
			return err
		}
		w.step(1)
	}
	return nil
}

// writeRows writes all rows as they are stored.
func (w *exportWriter) writeRows(v *store.View) error {
	return v.WriteDump(func(name string) (io.WriteCloser, error) {
		f, err := w.create(path.Join(exportRows, name))
		if err != nil || path.Ext(name) != ".jsonl" {
			return f, err
		}
		return &rowsFile{f, w}, nil
	})
}

// rowsFile is a file with a row in each line.
type rowsFile struct {
	io.WriteCloser
	of *exportWriter
}

func (f *rowsFile) Write(data []byte) (int, error) {
	f.of.step(int64(bytes.Count(data, []byte("\n"))))
	return f.WriteCloser.Write(data)
}

// writeSums writes the SHA-256 of all other files, in the order of their names.
func (w *exportWriter) writeSums(*store.View) error {
	slices.SortFunc(w.sums, func(a, b string) int { return strings.Compare(a[2*sha256.Size:], b[2*sha256.Size:]) })
	return w.writeFile(sumsName, []byte(strings.Join(w.sums, "")))
}

func (w *exportWriter) writeFile(name string, data []byte) error {
	f, err := w.create(name)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

// create makes a file of the export, whose name has / between folders.
func (w *exportWriter) create(name string) (io.WriteCloser, error) {
	place := filepath.Join(w.folder, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(place), folderMode(w.mode)); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(place, os.O_WRONLY|os.O_CREATE|os.O_EXCL, w.mode|0o200)
	if err != nil {
		return nil, err
	}
	return &summedFile{file: f, buffer: bufio.NewWriterSize(f, 1<<16), sum: sha256.New(), mode: w.mode,
		done: func(sum []byte, size int64) {
			w.sums = append(w.sums, fmt.Sprintf("%s  %s\n", hex.EncodeToString(sum), name))
			w.out.Files++
			w.out.Bytes += size
		}}, nil
}

// summedFile is a file whose SHA-256 is made while it is written.
type summedFile struct {
	file   *os.File
	buffer *bufio.Writer
	sum    hash.Hash
	size   int64
	mode   fs.FileMode
	done   func(sum []byte, size int64)
}

func (f *summedFile) Write(data []byte) (int, error) {
	f.sum.Write(data) // which never fails
	f.size += int64(len(data))
	return f.buffer.Write(data)
}

func (f *summedFile) Close() error {
	err := f.buffer.Flush()
	_ = f.file.Chmod(f.mode.Perm()) // what the system took off
	if closed := f.file.Close(); err == nil {
		err = closed
	}
	f.done(f.sum.Sum(nil), f.size)
	return err
}
