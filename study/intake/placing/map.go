package placing

import (
	"bufio"
	"cmp"
	"errors"
	"hash/maphash"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
)

// mapFile is a map that stays on the disk, or one that a study kept.
type mapFile struct {
	name   string
	folder string      // of the map, absolute
	from   string      // the folder that relative paths are from
	file   *os.File    // nil: the study kept it, and of the files that it names only their last names are known
	rows   io.ReaderAt // the text of the file, or of the sheet of a workbook
	info   os.FileInfo // of the file when it was opened
	sheet  *sheet.Table
	body   int64 // where the header ends
	hash   func(string) uint64
	runs   []run     // in the order of their hashes, then as they stand in the map
	texts  sync.Pool // of *bufio.Reader
}

// run is where rows of one file that follow one another begin. 16 bytes are all that is
// kept of them.
type run struct {
	hash   uint64 // of the file's absolute path; those of two files may be equal
	offset uint32 // where the row before ends, in bytes
	line   uint32 // of the first row
}

func seededHash() func(string) uint64 {
	seed := maphash.MakeSeed()
	return func(text string) uint64 { return maphash.String(seed, text) }
}

func openMap(name string, file *os.File, hash func(string) uint64) (m *mapFile, err error) {
	m = &mapFile{name: name, file: file, hash: hash}
	if m.from, err = os.Getwd(); err != nil {
		return nil, &study.Refusal{File: m.name, Fault: "could not find out which folder this runs in",
			Try: "run it in another folder", Cause: err}
	}
	m.folder = m.absolute(filepath.Dir(m.name))
	if m.info, err = file.Stat(); err != nil {
		return nil, m.changed(err)
	}
	return m, m.read(file, m.info.Size())
}

// read checks the content of the map through, which has so many bytes.
func (m *mapFile) read(content io.ReaderAt, size int64) (err error) {
	if m.rows, size, err = sheet.Content(m.name, content, size); err != nil {
		return err
	}
	return m.scan(size)
}

// scan checks the map through and notes its runs.
func (m *mapFile) scan(size int64) error {
	r, err := sheet.NewReader(m.name, io.NewSectionReader(m.rows, 0, size))
	if err != nil {
		return err
	}
	m.sheet, m.body = r.Sheet, r.Offset()
	before, last := m.body, ""
	err = sheet.EachMapRow(r, func(row *sheet.Row, p sheet.MapRow) error {
		if p.File != last {
			m.runs = append(m.runs, run{m.hash(m.key(p.File)), uint32(before), uint32(row.Line)})
		}
		before, last = r.Offset(), p.File
		return nil
	})
	if err != nil {
		return err
	}
	if len(m.runs) == 0 {
		return &study.Refusal{File: m.name, Fault: "the map has no rows",
			Try: "write a row for each column that belongs into the study"}
	}
	slices.SortFunc(m.runs, func(a,
		b run) int {
		return cmp.Or(cmp.Compare(a.hash, b.hash), cmp.Compare(a.offset, b.offset))
	})
	return nil
}

// absolute returns a path from the root, without dots.
func (m *mapFile) absolute(path string) string {
	if m.file == nil {
		return filepath.Base(path)
	}
	if filepath.IsAbs(path) {
		return filepath.Clean(path)
	}
	return filepath.Join(m.from, path)
}

// key returns the absolute path of a file that a row names, or its last name.
func (m *mapFile) key(named string) string {
	if m.file == nil {
		return filepath.Base(named)
	}
	return filepath.Join(m.folder, named)
}

// withHash returns the runs of that hash.
func (m *mapFile) withHash(hash uint64) []run {
	from, _ := slices.BinarySearchFunc(m.runs, hash, func(r run, h uint64) int { return cmp.Compare(r.hash, h) })
	to := from
	for to < len(m.runs) && m.runs[to].hash == hash {
		to++
	}
	return m.runs[from:to]
}

// each goes through the rows of a run if they are of the file with that absolute path,
// until do returns false or an error.
func (m *mapFile) each(at run, key string, do func(*sheet.Row) (more bool, err error)) error {
	text, ok := m.texts.Get().(*bufio.Reader)
	if !ok {
		text = bufio.NewReader(nil)
	}
	defer m.texts.Put(text)
	r := m.sheet.Through(text, m.rows, int64(at.offset), 0)
	var row sheet.Row
	var file string
	for {
		err := r.Next(&row)
		if errors.Is(err, io.EOF) && file != "" {
			return nil
		}
		if err != nil {
			return m.changed(err)
		}
		switch named := row.Text("file"); {
		case file == "":
			found := m.key(named)
			if m.hash(found) != at.hash {
				return m.changed(nil)
			}
			if found != key {
				return nil // another one of the same hash
			}
			file, r.Above = named, int(at.line)-row.Line
			row.Line = int(at.line)
		case named != file:
			return nil
		}
		if more, err := do(&row); err != nil || !more {
			return err
		}
	}
}

// count returns how many files the map names; of names with one hash one counts.
func (m *mapFile) count() (n int) {
	for i := range m.runs {
		if i == 0 || m.runs[i].hash != m.runs[i-1].hash {
			n++
		}
	}
	return n
}

// unchanged refuses a map that was written to since it was opened.
func (m *mapFile) unchanged() error {
	if m.file == nil {
		return nil
	}
	info, err := m.file.Stat()
	if err != nil || info.Size() != m.info.Size() || !info.ModTime().Equal(m.info.ModTime()) {
		return m.changed(err)
	}
	return nil
}

// changed refuses a map that is no longer what was checked.
func (m *mapFile) changed(cause error) error {
	return &study.Refusal{File: m.name, Fault: "the map changed while it was in use",
		Try: "leave it as it is until this has ended, and run it again", Cause: cause}
}

// isOf reports whether a run is of the file with that absolute path.
func (m *mapFile) isOf(at run, key string) (is bool, err error) {
	err = m.each(at, key, func(*sheet.Row) (bool, error) {
		is = true
		return false, nil
	})
	return is, err
}

func (m *mapFile) names(path string) bool {
	key := m.absolute(path)
	return slices.ContainsFunc(m.withHash(m.hash(key)), func(at run) bool {
		is, err := m.isOf(at, key)
		return is || err != nil
	})
}

func (m *mapFile) linesFor(path string) ([]sheet.Line[Placing], error) {
	lines, err := m.linesOf(m.absolute(path))
	if err == nil {
		err = refuseRepeatedRows(lines)
	}
	if err != nil {
		return nil, err
	}
	return lines, nil
}

// linesOf returns the lines of a file with that key.
func (m *mapFile) linesOf(key string) ([]sheet.Line[Placing], error) {
	runs := m.withHash(m.hash(key))
	if len(runs) == 0 {
		return nil, nil
	}
	if err := m.unchanged(); err != nil {
		return nil, err
	}
	lines := make([]sheet.Line[Placing], 0, 4) // angles of a spot, mostly
	for _, at := range runs {
		err := m.each(at, key, func(row *sheet.Row) (bool, error) {
			p := Placing{MapRow: row.MapRow()}
			lines = append(lines, sheet.Line[Placing]{File: m.name, Number: row.Line, Row: p})
			if len(lines) > text.MaxColumns && row.Err == nil {
				row.Refuse("file", "give each column one row", "%s has more than %s rows, and no export more columns", p.File,
					text.Figure(text.MaxColumns))
			}
			return true, row.Err
		})
		if err != nil {
			return nil, err
		}
	}
	return lines, nil
}

// sameRow reports whether two rows say the same; a null orientation is NaN.
func sameRow(a, b *Placing) bool {
	x, y := *a, *b
	if math.IsNaN(float64(x.OrientationDeg)) && math.IsNaN(float64(y.OrientationDeg)) {
		x.OrientationDeg, y.OrientationDeg = 0, 0
	}
	return x == y
}

// refuseRepeatedRows refuses rows that say the same twice.
func refuseRepeatedRows(lines []sheet.Line[Placing]) error {
	if len(lines) <= 8 { // mostly so: no map is needed
		for i := range lines {
			for k := range lines[:i] {
				if sameRow(&lines[i].Row, &lines[k].Row) {
					return lines[i].Refuse("write each row once", "the row stands in line %d already", lines[k].Number)
				}
			}
		}
		return nil
	}
	type said struct {
		Placing
		unturned bool // no orientation, whose null is NaN and equals nothing
	}
	seen := make(map[said]int, len(lines))
	for _, l := range lines {
		s := said{Placing: l.Row}
		if math.IsNaN(float64(s.OrientationDeg)) {
			s.OrientationDeg, s.unturned = 0, true
		}
		if line, twice := seen[s]; twice {
			return l.Refuse("write each row once", "the row stands in line %d already", line)
		}
		seen[s] = l.Number
	}
	return nil
}

// files goes through the map once more.
func (m *mapFile) files(yield func(string, error) bool) {
	r := m.sheet.From(m.rows, m.body, 0)
	folder, last := filepath.Dir(m.name), ""
	if err := m.unchanged(); err != nil {
		yield("", err)
		return
	}
	var row sheet.Row
	for {
		before := r.Offset()
		err := r.Next(&row)
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			yield("", m.changed(err))
			return
		}
		named := row.Text("file")
		if named == last {
			continue
		}
		last = named
		first, err := m.isFirst(m.key(named), uint32(before))
		if err != nil {
			yield("", err)
			return
		}
		if first && !yield(filepath.Join(folder, named), nil) {
			return
		}
	}
}

// isFirst reports whether the run at offset is the first one of its file.
func (m *mapFile) isFirst(key string, offset uint32) (bool, error) {
	for _, at := range m.withHash(m.hash(key)) {
		if at.offset == offset {
			return true, nil
		}
		if is, err := m.isOf(at, key); is || err != nil {
			return false, err
		}
	}
	return false, m.changed(nil)
}
