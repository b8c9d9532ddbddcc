package placing

import (
	"bytes"
	"errors"
	"io"
	"iter"
	"os"

	"wane/study/intake/sheet"
)

// Rules say where the curves of exports belong: the rows of a map, or the curves of a
// profile. They are safe for concurrent use.
type Rules struct {
	rows    *mapFile // or nil
	profile *Profile // or nil
}

// OpenMap reads and checks a map through, row by row, and keeps of it only where the
// rows of each file stand; [Rules.For] reads them again. It takes the file over and closes it
// if there is an error, which is a [*study.Refusal]. name is its path, or NAME.xlsx#Sheet.
func OpenMap(name string, file *os.File) (*Rules, error) {
	m, err := openMap(name, file, seededHash())
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return &Rules{rows: m}, nil
}

// KeptMap is [OpenMap] of the bytes of a map that a study kept.
func KeptMap(name string, data []byte) (*Rules, error) {
	m := &mapFile{name: name, hash: seededHash()}
	if err := m.read(bytes.NewReader(data), int64(len(data))); err != nil {
		return nil, err
	}
	return &Rules{rows: m}, nil
}

// Rules returns where the curves of a profile belong.
func (p *Profile) Rules() *Rules { return &Rules{profile: p} }

// Name returns the path of the map, or the name under which the profile was read.
func (r *Rules) Name() string {
	if r.profile != nil {
		return r.profile.file
	}
	return r.rows.name
}

// Notes says which lines of a map were taken for comments, and which cells were read in the one
// way that is possible.
func (r *Rules) Notes() []string {
	if r.profile != nil {
		return nil
	}
	return r.rows.sheet.Notes()
}

// Files goes through the files that a map names, each once, in the order in which it
// names them, joined to the map's folder. A profile names none. An error is a
// [*study.Refusal] and ends it.
func (r *Rules) Files() iter.Seq2[string, error] {
	if r.profile != nil {
		return func(func(string, error) bool) {}
	}
	return r.rows.files
}

// Count returns how many files a map names, as good as surely; a profile names none.
func (r *Rules) Count() int {
	if r.profile != nil {
		return 0
	}
	return r.rows.count()
}

// Names reports whether there is a line for the file: a row of the map, or a curve of
// the profile if its pattern matches the path. A map that cannot be read any more names
// all that it may have named; For then says why.
func (r *Rules) Names(path string) bool {
	if r.profile != nil {
		return r.profile.Places() && r.profile.Matches(path)
	}
	return r.rows.names(path)
}

// For returns the lines that concern one file; none if it is not named. A relative path
// is from the folder in which the program ran when the map was opened. Every error is a
// [*study.Refusal].
func (r *Rules) For(path string) ([]sheet.Line[Placing], error) {
	if r.profile != nil {
		return r.profile.linesFor(path)
	}
	return r.rows.linesFor(path)
}

// ForName returns the lines that concern files of that last name, which is all that a study keeps of their paths: those
// of each file by themselves. Only [KeptMap] and profiles have them.
func (r *Rules) ForName(name string) (files [][]sheet.Line[Placing], err error) {
	if r.profile != nil {
		lines, err := r.profile.linesFor(name)
		if len(lines) > 0 {
			files = append(files, lines)
		}
		return files, err
	}
	lines, err := r.rows.linesOf(name)
	of := map[string]int{}
	for _, l := range lines {
		i, known := of[l.Row.File]
		if !known {
			i, files = len(files), append(files, nil)
			of[l.Row.File] = i
		}
		files[i] = append(files[i], l)
	}
	return files, err
}

// IsMap reports whether these are the rows of a map.
func (r *Rules) IsMap() bool { return r.rows != nil }

// Copy writes the bytes of a map to w. A map that was written to since it was opened is refused.
func (r *Rules) Copy(w io.Writer) error {
	_, err := io.Copy(w, io.NewSectionReader(r.rows.file, 0, r.rows.info.Size()))
	return errors.Join(err, r.rows.unchanged())
}

// Close closes the map.
func (r *Rules) Close() error {
	if r.profile != nil {
		return nil
	}
	return r.rows.file.Close()
}
