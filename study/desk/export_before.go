package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/source"
)

// exportBefore is an export that was made before, as its SHA256SUMS has it.
type exportBefore struct {
	folder string
	sums   map[string]string // SHA-256 in hexadecimal digits, by the name of the file with / between folders
	lines  map[string]int    // of SHA256SUMS
}

// readExport reads SHA256SUMS of a folder.
func readExport(folder string) (*exportBefore, error) {
	name := filepath.Join(folder, sumsName)
	data, err := source.ReadFile(name)
	if err != nil {
		return nil, err
	}
	e := &exportBefore{folder, map[string]string{}, map[string]int{}}
	n := 0
	for line := range strings.Lines(string(data)) {
		n++
		sum, file, found := strings.Cut(strings.TrimSuffix(line, "\n"), "  ")
		if _, err := hex.DecodeString(sum); err != nil || len(sum) != 2*sha256.Size || !found || !filepath.IsLocal(file) {
			return nil, &study.Refusal{File: name, Line: n, Fault: "this is no SHA-256 and name of a file of the export",
				Try: tryExport}
		}
		e.sums[file], e.lines[file] = sum, n
	}
	return e, nil
}

const tryExport = "copy the export again from where it is whole, or make it again with `wane export DIR`"

// path returns where a file is.
func (e *exportBefore) path(name string) string {
	return filepath.Join(e.folder, filepath.FromSlash(name))
}

// open opens a file of the export, whose Close reports bytes that are not those of SHA256SUMS.
func (e *exportBefore) open(name string) (io.ReadCloser, error) {
	f, err := source.OpenLarge(e.path(name))
	if err != nil {
		return nil, err
	}
	sum := sha256.New()
	return &checkedFile{io.TeeReader(f, sum), f, func() error {
		return e.compare(name, hex.EncodeToString(sum.Sum(nil)))
	}}, nil
}

// checkedFile is a file that is compared with its SHA-256 when it is closed.
type checkedFile struct {
	io.Reader
	file    *os.File
	compare func() error
}

func (f *checkedFile) Close() error {
	_, err := io.Copy(io.Discard, f.Reader) // what was not read
	if err == nil {
		err = f.compare()
	}
	return errors.Join(err, f.file.Close())
}

// compare refuses a file whose bytes are not those that it was exported with.
func (e *exportBefore) compare(name, sum string) error {
	want, known := e.sums[name]
	switch {
	case !known:
		return &study.Refusal{File: e.path(name), Fault: "the file is not of this export: " + sumsName + " has no line of it",
			Try: tryExport}
	case sum != want:
		return &study.Refusal{
			File: e.path(name),
			Fault: fmt.Sprintf("the file was changed since it was exported: line %d of %s has another SHA-256", e.lines[name],
				sumsName),
			Try: tryExport,
		}
	}
	return nil
}

// check compares a file with its SHA-256.
func (e *exportBefore) check(name string) error {
	f, err := e.open(name)
	if err != nil {
		return err
	}
	return f.Close()
}

// names returns the names of the files in their order.
func (e *exportBefore) names() []string {
	var names []string
	for name := range e.sums {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// mayReplace refuses a folder that has something else in it than an export of this study, as it was made.
func (d *Desk) mayReplace(ctx context.Context, folder string) error {
	info, err := os.Stat(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err == nil && !info.IsDir() {
		return &study.Refusal{File: folder, Fault: "this is no folder", Try: tryAnotherFolder}
	}
	var entries []fs.DirEntry
	if err == nil {
		entries, err = os.ReadDir(folder)
	}
	if err != nil {
		return &study.Refusal{File: folder, Fault: "could not read the folder", Try: tryAnotherFolder, Cause: err}
	}
	if len(entries) == 0 {
		return nil
	}
	const rule = "; only an export of this study that nobody changed is replaced"
	e, err := readExport(folder)
	if err != nil {
		return &study.Refusal{File: folder,
			Fault: "the folder has " + study.Shown(entries[0].Name()) + " in it, and is no export" + rule, Try: tryAnotherFolder}
	}
	head, err := source.ReadFile(e.path(exportRows + "/format.json"))
	is := false
	if err == nil {
		is, err = d.store.DumpIsOf(ctx, head)
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil || !is {
		return &study.Refusal{File: folder, Fault: "the folder is no export of this study, or of a later state of it" + rule,
			Try: tryAnotherFolder}
	}
	return e.unchanged(ctx, rule)
}

const tryAnotherFolder = "name a new folder"

// unchanged refuses an export with a file that was changed or is not of it.
func (e *exportBefore) unchanged(ctx context.Context, rule string) error {
	return filepath.WalkDir(e.folder, func(place string, entry fs.DirEntry, err error) error {
		if err = errors.Join(err, ctx.Err()); err != nil || entry.IsDir() {
			return err
		}
		name, err := filepath.Rel(e.folder, place)
		if err != nil {
			return err
		}
		if name = filepath.ToSlash(name); name == sumsName {
			return nil
		}
		fault := "is not of the export"
		if _, known := e.sums[name]; known {
			if err := e.check(name); err == nil {
				return nil
			}
			fault = "was changed since it was exported"
		}
		return &study.Refusal{File: e.folder, Fault: study.Shown(name) + " " + fault + rule,
			Try: "move it elsewhere, or name a new folder"}
	})
}

// openRows opens a file of the rows.
func (e *exportBefore) openRows(name string) (io.ReadCloser, error) {
	return e.open(exportRows + "/" + name)
}

// pathOfRows returns where a file of the rows is.
func (e *exportBefore) pathOfRows(name string) string { return e.path(exportRows + "/" + name) }
