package desk

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"wane/study"
	"wane/study/store"
)

// sumsName is the file that holds the SHA-256 of the others, as sha256sum writes them.
const sumsName = "SHA256SUMS"

// Originals is what became of the files that a study keeps.
type Originals struct {
	Files int
	Bytes int64
	Notes []string // files that got another name than they had
}

// ExportOriginals writes the files that the study keeps (exports, tables of
// measurements, pictures) into a folder that must be new or empty, byte for byte under
// their names, and their SHA-256 into SHA256SUMS there, in the form that sha256sum
// reads and writes. They get the permissions of the study. With names, only the files of these names or SHA-256 are written.
// A name that would lead elsewhere is made safe, and one that is taken already gets
// digits of its SHA-256; Notes tell. After an error nothing is left behind.
func (d *Desk) ExportOriginals(ctx context.Context, folder string, names []string) (out *Originals, err error) {
	var files []store.KeptFile
	err = d.fromFiles(ctx, names, func(_ *store.View, _ map[string]TracedFile, from []store.KeptFile) error {
		files = from
		return nil
	})
	if err != nil {
		return nil, err
	}
	mode, err := d.Mode()
	if err != nil {
		return nil, err
	}
	made, err := emptyFolder(folder, folderMode(mode))
	if err != nil {
		return nil, err
	}
	w := &originalsWriter{desk: d, folder: folder, mode: mode, taken: map[string]bool{strings.ToLower(sumsName): true}, out: &Originals{}}
	defer func() {
		if err != nil {
			out = nil
			err = errors.Join(err, w.remove(made))
		}
	}()
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := w.add(ctx, f); err != nil {
			return nil, err
		}
	}
	return w.out, w.write(sumsName, w.sums.Bytes())
}

// emptyFolder makes the folder, with these permissions, if it is not there. One that holds
// something is refused.
func emptyFolder(folder string, mode fs.FileMode) (made bool, err error) {
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = os.Mkdir(folder, mode)
		made = err == nil
	case err == nil && len(entries) > 0:
		return false, &study.Refusal{File: folder, Fault: "the folder is not empty", Try: "name a new folder"}
	}
	if err != nil {
		return false, &study.Refusal{File: folder, Fault: "could not make or read the folder", Try: "name a new folder in one that is there, where you may write", Cause: err}
	}
	return made, nil
}

type originalsWriter struct {
	desk    *Desk
	folder  string
	mode    fs.FileMode     // of the files
	taken   map[string]bool // names in lower case, since some file systems do not tell case
	written []string
	sums    bytes.Buffer
	out     *Originals
}

// add writes one file.
func (w *originalsWriter) add(ctx context.Context, f store.KeptFile) error {
	e, err := w.desk.store.Original(ctx, f.SHA256)
	if err != nil {
		return err
	}
	sum := hex.EncodeToString(f.SHA256[:])
	name := w.free(safeName(f.Name), sum)
	if name != f.Name {
		w.out.Notes = append(w.out.Notes, fmt.Sprintf("%q is written as %s", f.Name, name))
	}
	fmt.Fprintf(&w.sums, "%s  %s\n", sum, name)
	w.out.Files++
	w.out.Bytes += int64(len(e.Data))
	return w.write(name, e.Data)
}

// free returns name, or if that is taken, name with digits of sum.
func (w *originalsWriter) free(name, sum string) string {
	ending := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ending)
	for n := 8; w.taken[strings.ToLower(name)]; n += 8 {
		name = stem + "-" + sum[:min(n, len(sum))] + strings.Repeat("_", max(0, n-len(sum))) + ending
	}
	w.taken[strings.ToLower(name)] = true
	return name
}

// write makes a file that is not there yet.
func (w *originalsWriter) write(name string, data []byte) error {
	path := filepath.Join(w.folder, name)
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, w.mode)
	if err == nil {
		w.written = append(w.written, path)
		_ = f.Chmod(w.mode) // what the system took off; a file system without permissions has its own
		_, err = f.Write(data)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return &study.Refusal{File: path, Fault: "could not write the file", Try: "make room, or name another folder; what was written is removed", Cause: err}
	}
	return nil
}

// remove takes away what was written.
func (w *originalsWriter) remove(folder bool) error {
	var errs []error
	for _, path := range w.written {
		errs = append(errs, os.Remove(path))
	}
	if folder {
		errs = append(errs, os.Remove(w.folder))
	}
	return errors.Join(errs...)
}

// longestName leaves room for the digits of a SHA-256 below the 255 bytes that file
// systems allow.
const longestName = 180

// safeName makes a name that of a file within a folder: without separators of folders
// and drives, characters that hide something and what is not UTF-8; never empty, never the folder
// itself or the one above.
func safeName(name string) string {
	safe := strings.Map(func(c rune) rune {
		if study.Hides(c) || c == utf8.RuneError || strings.ContainsRune(`/\:`, c) {
			return '_'
		}
		return c
	}, name)
	if safe == "" || safe == "." || safe == ".." {
		safe += "_"
	}
	if len(safe) > longestName {
		ending := filepath.Ext(safe)
		ending = ending[:min(len(ending), 20)]
		safe = strings.ToValidUTF8(safe[:longestName-len(ending)], "") + strings.ToValidUTF8(ending, "")
	}
	return safe
}
