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
	"wane/study/intake/placing"
	"wane/study/intake/source"
	"wane/study/intake/workbook"
)

// mostNamedFiles is how many of the skipped files a note names.
const mostNamedFiles = 3

// skippedFiles are files that were found and are not taken in: nothing places them, or they cannot be
// read.
type skippedFiles struct {
	n       int
	first   []string // names of the first that nothing places
	faulty  int      // those that cannot be read
	refused []string // why the first of these cannot be read
}

func (s *skippedFiles) add(f source.Found) {
	s.n++
	switch {
	case f.Fault != nil:
		if s.faulty++; s.faulty <= mostNamedFiles {
			s.refused = append(s.refused, f.Fault.Error())
		}
	case len(s.first) < mostNamedFiles:
		s.first = append(s.first, f.Path)
	}
}

// notes says which files were skipped, and why.
func (s *skippedFiles) notes(by string) (notes []string) {
	if unplaced := s.n - s.faulty; unplaced > 0 {
		notes = append(notes, "skipped, since "+by+" has no row for them: "+joinFirst(s.first, unplaced, ", "))
	}
	if s.faulty > 0 {
		notes = append(notes, "skipped: "+joinFirst(s.refused, s.faulty, "; "))
	}
	return notes
}

// joinFirst joins the first of n texts, and counts the others.
func joinFirst(first []string, n int, between string) string {
	text := strings.Join(first, between)
	if more := n - len(first); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// chooseFiles decides which files are taken in: those that paths lead to, in their order, each once;
// without paths those that the map names.
func (p *intakePlan) chooseFiles(mapFile string, paths []string) (err error) {
	if len(paths) == 0 {
		if p.total = p.placement.rules[0].Count(); p.total == 0 {
			return &study.Refusal{
				File: p.placement.name, Fault: "no file is given, and no map names one", Try: "give files, folders or zip files",
			}
		}
		return nil
	}
	if p.found, err = p.files.Find(paths); err != nil {
		return err
	}
	return p.selectFound(mapFile)
}

// selectFound keeps those of the found files that are taken in or refused, and notes the others as
// skipped. A file that cannot be read is refused if a person named it, by its path or in a row of
// the map; otherwise it is skipped.
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

// faultOfWanted says why a file that a person wants cannot be taken in: there is none, it is not a file,
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
		return &study.Refusal{
			File: path, Fault: p.placement.describe() + " has no row for this file",
			Try: "add a row for each of its columns that is wanted, or leave the file out",
		}
	}
	return nil
}

// nothingPlaced is the refusal of files of which none is placed.
func (p *intakePlan) nothingPlaced() error {
	try := "check the pattern of its files"
	for path, err := range p.placement.mappedFiles() {
		if err == nil {
			try = "check the folder: names in a map are relative to the map's own, such as " + path
		}
		break
	}
	return &study.Refusal{
		File:  p.placement.name,
		Fault: fmt.Sprintf("%s has no row for any of the %d files found", p.placement.kind(), p.skipped.n), Try: try,
	}
}

// exportJobs are the files to take in.
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

// mappedFiles are the files that the map names.
func (p *placement) mappedFiles() iter.Seq2[string, error] { return p.rules[0].Files() }

// namesMemberOf reports whether the map names a member of a zip file.
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

// MappedFiles returns the paths of the files that a map names, each once.
func MappedFiles(mapFile string) (paths []string, err error) {
	path, _ := workbook.Split(mapFile)
	file, err := source.Open(path)
	if err != nil {
		return nil, err
	}
	rules, err := placing.OpenMap(mapFile, file)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rules.Close()) }()
	seen := map[string]bool{}
	for path, err := range rules.Files() {
		if err != nil {
			return nil, err
		}
		if !seen[path] {
			seen[path] = true
			paths = append(paths, path)
		}
	}
	return paths, nil
}
