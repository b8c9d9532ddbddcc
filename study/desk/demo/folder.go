package demo

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake/source"
	"wane/study/scenario"
)

// markName is the name of the file by which a folder is known as one that a demo made. It lists
// the files that are the demo's own.
const markName = "made-up-by-wane-demo.txt"

// tablesName is the folder of the tables of the report.
const tablesName = "report-tables"

// markNote is what it begins with.
const markNote = `Everything that wane demo wrote into this folder is made up: the makers, the site,
the coupons and the readings. When it is run again it replaces these files, and
refuses if there are others:
`

// writeFolder writes the files of the scenario into folder, the mark first: it lists what a
// later demo may replace.
func writeFolder(folder string, s *scenario.Scenario) (scenario.Truth, error) {
	if err := writeFile(folder, markName, markNote+strings.Join(append(s.Files(), ruleName), "\n")+"\n"); err != nil {
		return nil, err
	}
	if err := writeFile(folder, ruleName, ruleText); err != nil {
		return nil, err
	}
	return s.Write(func(name, text string) error { return writeFile(folder, name, text) })
}

// writeFile writes a file of the folder, and the folders that it needs.
func writeFile(folder, name, text string) error {
	path := filepath.Join(folder, name)
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil {
		err = os.WriteFile(path, []byte(text), 0o644)
	}
	if err != nil {
		return &study.Refusal{
			File: folder, Fault: "could not write " + name,
			Try: "check the folder and the room on the disk, or name another folder", Cause: err,
		}
	}
	return nil
}

// clearFolder removes what an earlier demo wrote into folder. A folder that holds
// anything else is refused.
func clearFolder(folder string) error {
	desk.Sweep(folder) // an earlier demo may have been killed
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return &study.Refusal{File: folder, Fault: "could not list the folder", Try: "name another folder", Cause: err}
	case len(entries) == 0:
		return nil
	}
	if !slices.ContainsFunc(entries, func(e fs.DirEntry) bool { return e.Name() == markName }) {
		return &study.Refusal{
			File: folder, Fault: "this folder exists, and no demo made it", Try: "name another folder: wane demo NAME",
		}
	}
	mark, err := source.ReadFile(filepath.Join(folder, markName))
	if err != nil {
		return err
	}
	foreign, err := unlistedFile(folder, string(mark))
	switch {
	case err != nil:
		return &study.Refusal{File: folder, Fault: "could not list the folder", Try: "name another folder", Cause: err}
	case foreign != "":
		return &study.Refusal{
			File: folder, Fault: fmt.Sprintf("the folder has %s, which no demo wrote", foreign),
			Try: "move it elsewhere, or name another folder: wane demo NAME",
		}
	}
	for _, e := range entries { // the mark goes last: a demo that is killed here can be run again
		if e.Name() != markName {
			err = errors.Join(err, os.RemoveAll(filepath.Join(folder, e.Name())))
		}
	}
	if err = errors.Join(err, os.Remove(filepath.Join(folder, markName))); err != nil {
		return &study.Refusal{
			File: folder, Fault: "could not replace the folder",
			Try: "close the programs that use it, or name another folder", Cause: err,
		}
	}
	return nil
}

// unlistedFile returns the name of the first file below folder that is neither listed in the mark
// nor the study or the figure of a demo, or "".
func unlistedFile(folder, mark string) (foreign string, err error) {
	own := map[string]bool{
		markName: true, Bench: true, Labels: true, Report: true, Tints: true, Predicted: true,
		studyName: true, studyName + "-wal": true, studyName + "-shm": true,
	}
	for _, name := range Figures {
		own[name] = true
	}
	for _, line := range strings.Split(mark, "\n") {
		own[line] = true
	}
	err = filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		name, err := filepath.Rel(folder, path)
		name = filepath.ToSlash(name)
		if strings.HasPrefix(name, tablesName+"/") && (strings.HasSuffix(name, ".csv") || strings.HasSuffix(name, "/SHA256SUMS")) {
			return err // the tables of the report
		}
		if err == nil && !own[name] && foreign == "" {
			foreign = name
		}
		return err
	})
	return foreign, err
}
