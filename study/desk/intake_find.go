package desk

import (
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/intake/source"
)

// namedLeft is how many of the files that are left are named.
const mostNamedFiles = 3

// leftFiles are files that nothing places, and those that cannot be taken anyway.
type skippedFiles struct {
	n       int
	first   []string
	faulty  int
	refused []string // why the first of these
}

func (l *skippedFiles) add(f source.Found) {
	l.n++
	switch {
	case f.Fault != nil:
		if l.faulty++; l.faulty <= mostNamedFiles {
			l.refused = append(l.refused, f.Fault.Error())
		}
	case len(l.first) < mostNamedFiles:
		l.first = append(l.first, f.Path)
	}
}

// notes says which files are left, and why.
func (l *skippedFiles) notes(by string) (notes []string) {
	if unplaced := l.n - l.faulty; unplaced > 0 {
		notes = append(notes, "left, since "+by+" has no row for them: "+joinFirst(l.first, unplaced, ", "))
	}
	if l.faulty > 0 {
		notes = append(notes, "left: "+joinFirst(l.refused, l.faulty, "; "))
	}
	return notes
}

// andMore joins the first of n texts.
func joinFirst(first []string, n int, between string) string {
	text := strings.Join(first, between)
	if more := n - len(first); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// choose finds out which files are taken in: those that paths lead to, in their order,
// each once, or without paths those that the map names.
func (p *intakePlan) chooseFiles(mapFile string, paths []string) (err error) {
	if len(paths) == 0 {
		if p.total = p.placement.rules[0].Count(); p.total == 0 {
			return &study.Refusal{File: p.placement.name, Fault: "no file is given, and no map names one", Try: "give files, folders or zip files"}
		}
		return nil
	}
	if p.found, err = p.files.Find(paths); err != nil {
		return err
	}
	return p.selectFound(mapFile)
}

// sift keeps those of the files found that are taken in or refused. A file that cannot
// be taken is refused if a person named it, by its path or in a row of the map, and else
// left.
func (p *intakePlan) selectFound(mapFile string) error {
	own := ""
	if mapFile != "" {
		path, err := filepath.Abs(mapFile)
		if err != nil {
			return err
		}
		own = path
	}
	p.named = map[string]bool{}
	for _, f := range p.found {
		if !f.Named {
			continue
		}
		key, err := filepath.Abs(f.Path)
		if err != nil {
			return err
		}
		p.named[key] = true
	}
	seen := make(map[string]bool, len(p.found))
	kept := p.found[:0]
	for _, f := range p.found {
		key, err := filepath.Abs(f.Path)
		if err != nil {
			return err
		}
		if seen[key] {
			continue
		}
		seen[key] = true
		f.Named = p.named[key]
		placed := p.placement.placesFile(f.Path)
		wanted, err := f.Named || placed, error(nil)
		if f.Fault != nil && !wanted {
			wanted, err = p.placement.namesMemberOf(key)
		}
		switch {
		case err != nil:
			return err
		case wanted:
			if f.Fault == nil {
				f.Fault = p.faultOfWanted(f.Path, placed)
			}
			kept = append(kept, f)
		case key != own && !isStudy(key):
			p.skipped.add(f)
		}
	}
	clear(p.found[len(kept):])
	p.found, p.total = kept, len(kept)
	if p.total > 0 {
		return nil
	}
	return p.nothingPlaced()
}

// faultOf says why a file that is wanted cannot be taken in: it is not there, it is no file,
// or no row places it.
func (p *intakePlan) faultOfWanted(path string, placed bool) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !strings.Contains(strings.ToLower(path), ".zip"):
		return &study.Refusal{File: path, Fault: "there is no such file", Try: "check the name and the folder"}
	case err == nil && !info.Mode().IsRegular():
		_, err := source.ReadFile(path) // says what it is, and does not open it
		return err
	case !placed:
		return &study.Refusal{File: path, Fault: p.placement.describe() + " has no row for this file",
			Try: "add a row for each of its columns that is wanted, or leave the file out"}
	}
	return nil
}

func (p *intakePlan) nothingPlaced() error {
	try := "check the pattern of its files"
	for path, err := range p.placement.mappedFiles() {
		if err == nil {
			try = "check the folder: names in a map are relative to the map's own, such as " + path
		}
		break
	}
	return &study.Refusal{File: p.placement.name, Fault: fmt.Sprintf("%s has no row for any of the %d files found", p.placement.kind(), p.skipped.n), Try: try}
}

// chosen are the files to take in.
func (p *intakePlan) exportJobs() iter.Seq[*exportJob] {
	return func(yield func(*exportJob) bool) {
		for _, f := range p.found {
			if !yield(&exportJob{path: f.Path, refused: f.Fault}) {
				return
			}
		}
		if p.found != nil {
			return
		}
		for path, err := range p.placement.mappedFiles() {
			if !yield(&exportJob{path: path, refused: err}) {
				return
			}
		}
	}
}

// mapped are the files that the map names.
func (p *placement) mappedFiles() iter.Seq2[string, error] { return p.rules[0].Files() }

// namesWithin reports whether the map names a member of a zip file.
func (p *placement) namesMemberOf(zipped string) (bool, error) {
	for path, err := range p.mappedFiles() {
		if err != nil {
			return false, err
		}
		key, err := filepath.Abs(path)
		if err != nil || strings.HasPrefix(key, zipped+string(filepath.Separator)) {
			return err == nil, err
		}
	}
	return false, nil
}

// isStudy reports whether a file is a study, or what stands beside it while it is
// open.
func isStudy(path string) bool {
	return strings.HasSuffix(strings.TrimSuffix(strings.TrimSuffix(path, "-wal"), "-shm"), ".wane")
}
