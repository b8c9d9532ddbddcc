package desk

import (
	"fmt"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/intake"
)

// namedLeft is how many of the files that are left are named.
const namedLeft = 3

// leftFiles are files that the map has no row for.
type leftFiles struct {
	n     int
	first []string
}

func (l *leftFiles) add(path string) {
	if l.n++; l.n <= namedLeft {
		l.first = append(l.first, path)
	}
}

func (l *leftFiles) note(mapFile string) string {
	text := "left, since the map " + mapFile + " has no row for them: " + strings.Join(l.first, ", ")
	if more := l.n - len(l.first); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// choose keeps the files that paths lead to, in the order of the paths, each once.
// A file that cannot be taken is refused if a person named it, by its path or in a
// row of the map, and else left.
func (p *intakePlan) choose(files *intake.Files, mapFile string, paths []string) error {
	found, err := files.Find(paths)
	if err != nil {
		return err
	}
	own, err := filepath.Abs(mapFile)
	if err != nil {
		return err
	}
	keys, named := make([]string, len(found)), map[string]bool{}
	for i, f := range found {
		if keys[i], err = filepath.Abs(f.Path); err != nil {
			return err
		}
		if f.Named {
			named[keys[i]] = true
		}
	}
	byKey, inZip := map[string]*exportJob{}, map[string]bool{}
	for _, j := range p.jobs {
		byKey[j.key] = j
		for up := filepath.Dir(j.key); strings.Contains(strings.ToLower(up), ".zip"); up = filepath.Dir(up) {
			inZip[up] = true
		}
	}
	var jobs []*exportJob
	seen := map[string]bool{}
	for i, f := range found {
		key := keys[i]
		if seen[key] {
			continue
		}
		seen[key] = true
		j := byKey[key]
		switch wanted := j != nil || inZip[key] || named[key]; {
		case f.Fault != nil && wanted:
			jobs = append(jobs, &exportJob{path: f.Path, refused: f.Fault})
		case j != nil:
			jobs = append(jobs, j)
		case wanted:
			jobs = append(jobs, &exportJob{path: f.Path, refused: &study.Refusal{File: f.Path, Fault: "the map " + mapFile + " has no row for this file", Try: "add a row for each of its columns that is wanted, or leave the file out"}})
		case key != own && !isStudy(key):
			p.left.add(f.Path)
		}
	}
	if len(jobs) == 0 {
		return &study.Refusal{File: mapFile, Fault: fmt.Sprintf("the map has no row for any of the %d files found", p.left.n),
			Try: "check the folder: names in a map are relative to the map's own, such as " + p.jobs[0].placings[0].Row.File}
	}
	p.jobs = jobs
	return nil
}

// isStudy reports whether a file is a study, or what stands beside it while it is
// open.
func isStudy(path string) bool {
	return strings.HasSuffix(strings.TrimSuffix(strings.TrimSuffix(path, "-wal"), "-shm"), ".wane")
}
