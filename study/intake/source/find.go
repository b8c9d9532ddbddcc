package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/study"
)

// Found is a file that a person's path led to.
type Found struct {
	Path  string
	Named bool  // by its own name, not found in a folder, in a zip file or by a pattern
	Fault error // a [*study.Refusal] if it cannot be taken, whatever it holds
}

// Find follows paths in the order given. A file is itself, also if it is not there.
// A folder stands for the files in it and below it, a zip file for its members, and
// a pattern with *, ? or [ for what it matches, if no file has that name; each in
// the order of the names, and a zip file in a folder for its members again. Files
// and folders whose names begin with a dot are skipped. A link in a folder is not
// followed but found with a Fault, and so are a zip file that cannot be read and one
// inside a zip file. Every error is a [*study.Refusal]: of a folder, a zip file or a
// pattern that leads to nothing, and of a folder that cannot be read.
func (f *Files) Find(paths []string) ([]Found, error) {
	var all []Found
	for _, path := range paths {
		found, err := f.find(path)
		if err != nil {
			return nil, err
		}
		all = append(all, found...)
	}
	return all, nil
}

func (f *Files) find(path string) ([]Found, error) {
	info, err := os.Stat(path)
	var found []Found
	switch {
	case err != nil && strings.ContainsAny(path, "*?[") && !isMember(path):
		return f.match(path)
	case err == nil && info.IsDir():
		if found, err = f.walk(path); err != nil {
			return nil, err
		}
	case err == nil && isZip(path) && info.Mode().IsRegular():
		found = f.members(path)
		if len(found) == 1 && found[0].Path == path {
			found[0].Named = true
		}
	default:
		return []Found{{Path: path, Named: true}}, nil
	}
	if len(found) == 0 {
		return nil, &study.Refusal{File: path, Fault: "it has only hidden files, which are skipped", Try: "check the name"}
	}
	return found, nil
}

// match follows a pattern that the shell has left as it is.
func (f *Files) match(pattern string) (all []Found, err error) {
	if strings.Contains(pattern, "**") {
		return nil, &study.Refusal{File: pattern, Fault: "** is not a pattern here",
			Try: "name the folder, which stands for all files in it and below it"}
	}
	names, err := filepath.Glob(pattern)
	if err != nil {
		return nil, &study.Refusal{File: pattern, Fault: "this is not a pattern of file names",
			Try: "write * for any letters, ? for one and [ab] for a or b, in quotation marks"}
	}
	for _, name := range names {
		if isHidden(filepath.Base(name)) && !isHidden(filepath.Base(pattern)) {
			continue
		}
		found, err := f.find(name)
		if err != nil {
			return nil, err
		}
		for _, one := range found {
			one.Named = false
			all = append(all, one)
		}
	}
	if len(all) == 0 {
		return nil, &study.Refusal{File: pattern, Fault: "no file matches the pattern",
			Try: "check the folder and the ending"}
	}
	return all, nil
}

func isHidden(base string) bool { return strings.HasPrefix(base, ".") && base != "." && base != ".." }

// walk finds the files below a folder.
func (f *Files) walk(folder string) (found []Found, err error) {
	err = fs.WalkDir(os.DirFS(folder), ".", func(name string, entry fs.DirEntry, err error) error {
		path := filepath.Join(folder, filepath.FromSlash(name))
		switch {
		case err != nil:
			var fault *fs.PathError
			if errors.As(err, &fault) {
				err = fault.Err
			}
			return &study.Refusal{File: path, Fault: "could not read the folder",
				Try: "check that you may read it, or give its files one by one", Cause: err}
		case isHidden(entry.Name()) && entry.IsDir():
			return fs.SkipDir
		case isHidden(entry.Name()) || entry.IsDir():
		case entry.Type()&fs.ModeSymlink != 0:
			found = append(found, Found{Path: path,
				Fault: &study.Refusal{File: path, Fault: "this is a link, and links in a folder are not followed",
					Try: "give it by its own name beside the folder, or put the file itself there"}})
		case !entry.Type().IsRegular():
		case isZip(path):
			found = append(found, f.members(path)...)
		default:
			found = append(found, Found{Path: path})
		}
		return nil
	})
	return found, err
}

// members finds the members of a zip file.
func (f *Files) members(path string) (found []Found) {
	a := f.enter(path)
	defer f.leave(a)
	if a.fault != nil {
		return []Found{{Path: path, Fault: a.fault}}
	}
	for _, name := range a.names {
		found = append(found, Found{Path: filepath.Join(path, filepath.FromSlash(name)), Fault: a.faultOf(name)})
	}
	return found
}
