package source

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
)

// Files reads exports: files, and members of zip files in place. A member is named
// as if the zip file were a folder: pulls.zip/roof/a.csv. The zero value is ready;
// a few zip files are kept open until [Files.Close]. It is safe for concurrent use.
type Files struct {
	mu     sync.Mutex
	open   []*archive // the last one used is last
	faults []error    // of closing
}

// mostOpen is how many zip files are kept open that nobody reads at the moment.
const mostOpen = 4

// Read reads a whole file as [ReadFile] does, or a member of a zip file. Every
// error is a [*study.Refusal]. It holds no more than the file itself.
func (f *Files) Read(name string) ([]byte, error) {
	zipped, member := splitZip(name)
	if member == "" {
		return ReadFile(name)
	}
	a := f.enter(zipped)
	defer f.leave(a)
	return a.read(member)
}

// Size returns how many bytes [Files.Read] would return, and 0 if it would refuse.
func (f *Files) Size(name string) int64 {
	zipped, member := splitZip(name)
	if member == "" {
		if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() {
			return info.Size()
		}
		return 0
	}
	a := f.enter(zipped)
	defer f.leave(a)
	return a.size(member)
}

// Close closes the zip files.
func (f *Files) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.closeIdle(0)
	return errors.Join(f.faults...)
}

// enter returns a zip file, open or with the fault that it has, until leave is
// called.
func (f *Files) enter(path string) *archive {
	f.mu.Lock()
	defer f.mu.Unlock()
	var a *archive
	for i, other := range f.open {
		if other.path == path {
			a = other
			f.open = append(f.open[:i], f.open[i+1:]...)
			break
		}
	}
	if a == nil {
		a = openArchive(path)
	}
	a.users++
	f.open = append(f.open, a)
	return a
}

func (f *Files) leave(a *archive) {
	f.mu.Lock()
	defer f.mu.Unlock()
	a.users--
	f.closeIdle(mostOpen)
}

// closeIdle closes the zip files that were left the longest ago, until most are
// open or the others are in use.
func (f *Files) closeIdle(most int) {
	for i := 0; i < len(f.open) && len(f.open) > most; {
		a := f.open[i]
		if a.users > 0 {
			i++
			continue
		}
		f.open = append(f.open[:i], f.open[i+1:]...)
		if err := a.close(); err != nil {
			f.faults = append(f.faults, err)
		}
	}
}

// splitZip splits the name of a member into the zip file and the name in it, which
// is empty if the name is that of a file.
func splitZip(name string) (zipped, member string) {
	for at := range name {
		if !os.IsPathSeparator(name[at]) || !isZip(name[:at]) {
			continue
		}
		if info, err := os.Stat(name[:at]); err == nil && info.Mode().IsRegular() {
			return name[:at], filepath.ToSlash(name[at+1:])
		}
	}
	return name, ""
}

func isMember(name string) bool {
	_, member := splitZip(name)
	return member != ""
}

func isZip(name string) bool { return strings.EqualFold(filepath.Ext(name), ".zip") }
