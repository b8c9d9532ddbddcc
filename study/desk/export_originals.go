package desk

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"wane/study"
	"wane/study/intake/source"
	"wane/study/store"
)

// sumsName is the file that holds the SHA-256 of the others, as sha256sum writes them.
const sumsName = "SHA256SUMS"

// Originals counts the files that were written.
type Originals struct {
	Files int
	Bytes int64
	Notes []string // files that got another name than they had
}

// ExportOriginals writes the files that the study keeps (exports, maps, rosters and other tables, pictures)
// into a folder that must be new or empty, byte for byte under their names, and their SHA-256 into
// SHA256SUMS there, in the form that sha256sum reads and writes. They get the permissions of the study.
// With names, only the files of these names or SHA-256 are written.
//
// A name that leads out of the folder is made safe, and a name that occurs twice gets digits of the
// SHA-256; Notes say so. Each file appears as a whole, and SHA256SUMS appears last. If a process was
// killed, the same call completes its work. After an error, the files of this call are removed.
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
	w := newOriginalsWriter(folder, mode, files)
	if err := w.begin(ctx); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			out = nil
			err = errors.Join(err, w.remove())
		}
	}()
	for i, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if w.writtenBefore[w.names[i]] {
			continue
		}
		e, err := d.store.Original(ctx, f.SHA256)
		if err != nil {
			return nil, err
		}
		if err := w.write(w.names[i], e.Data); err != nil {
			return nil, err
		}
	}
	return &w.out, w.write(sumsName, w.list.Bytes())
}

// originalsWriter writes files into a folder. All names are decided before the first file is
// written.
type originalsWriter struct {
	folder        string
	mode          fs.FileMode // of the files
	names         []string
	sums          map[string][sha256.Size]byte // by name
	list          bytes.Buffer                 // for SHA256SUMS
	taken         map[string]bool              // names in lower case, since some file systems do not distinguish case
	writtenBefore map[string]bool              // by name; an earlier call that was killed wrote them
	made          bool                         // the folder is of this call
	written       []string
	out           Originals
}

func newOriginalsWriter(folder string, mode fs.FileMode, files []store.KeptFile) *originalsWriter {
	w := &originalsWriter{folder: folder, mode: mode, sums: map[string][sha256.Size]byte{},
		taken: map[string]bool{strings.ToLower(sumsName): true}, writtenBefore: map[string]bool{}}
	for _, f := range files {
		sum := hex.EncodeToString(f.SHA256[:])
		name := w.freeName(safeName(f.Name), sum)
		if name != f.Name {
			w.out.Notes = append(w.out.Notes, fmt.Sprintf("%q is written as %s", f.Name, name))
		}
		w.names, w.sums[name] = append(w.names, name), f.SHA256
		fmt.Fprintf(&w.list, "%s  %s\n", sum, name)
		w.out.Files++
		w.out.Bytes += f.Size
	}
	return w
}

// begin makes the folder. An existing folder may be empty, or hold files that the same call wrote
// before it was killed; one that holds anything else is refused.
func (w *originalsWriter) begin(ctx context.Context) error {
	err := os.Mkdir(w.folder, folderMode(w.mode))
	if err == nil {
		w.made = true
		return nil
	}
	var entries []fs.DirEntry
	if errors.Is(err, fs.ErrExist) {
		store.Sweep(w.folder)
		entries, err = os.ReadDir(w.folder)
	}
	if err != nil {
		return &study.Refusal{
			File: w.folder, Fault: "could not make or read the folder",
			Try: "name a new folder inside an existing one, where you may write", Cause: err,
		}
	}
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		if !e.Type().IsRegular() || !w.isWritten(e.Name()) {
			return &study.Refusal{
				File: w.folder, Fault: "the folder is not empty: it has " + study.Shown(e.Name()), Try: "name a new folder",
			}
		}
		w.writtenBefore[e.Name()] = true
	}
	return nil
}

// isWritten reports whether a file in the folder is, byte for byte, one that w is to write.
func (w *originalsWriter) isWritten(name string) bool {
	sum, planned := w.sums[name]
	if !planned {
		return false
	}
	data, err := source.ReadFile(filepath.Join(w.folder, name))
	return err == nil && sha256.Sum256(data) == sum
}

// freeName returns name, or if that is taken, name with digits of sum.
func (w *originalsWriter) freeName(name, sum string) string {
	ending := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ending)
	for n := 8; w.taken[strings.ToLower(name)]; n += 8 {
		name = stem + "-" + sum[:min(n, len(sum))] + strings.Repeat("_", max(0, n-len(sum))) + ending
	}
	w.taken[strings.ToLower(name)] = true
	return name
}

// write makes a new file.
func (w *originalsWriter) write(name string, data []byte) error {
	path := filepath.Join(w.folder, name)
	if err := store.CreateUnsynced(path, w.mode, data); err != nil {
		return err
	}
	w.written = append(w.written, path)
	return nil
}

// remove removes what this call wrote.
func (w *originalsWriter) remove() error {
	var errs []error
	for _, path := range w.written {
		errs = append(errs, os.Remove(path))
	}
	if w.made {
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
