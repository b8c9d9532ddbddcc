package web

import (
	"bytes"
	"cmp"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"wane/study"
)

// Limits of uploads.
const (
	largestUpload = 256 << 20     // bytes of a form with files
	mostTrays     = 16            // the one that was not used for longest is removed for a new one
	longestTray   = 6 * time.Hour // without a request
)

// tray holds what a person uploaded: files in a folder of their own, which nobody else can read and which is removed
// with the tray. Nothing of it is in the study before it is taken in.
type tray struct {
	id     string
	owner  *session
	folder string
	seen   time.Time
	Files  []string // as the person called them, sorted; folders with slashes

	intake *uploaded
}

// trays are the trays of all sessions.
type trays struct {
	now func() time.Time
	mu  sync.Mutex
	all map[string]*tray
}

// receive keeps the files of a form in a new tray. What a person writes instead of a file is kept under textName, if the form
// has a field of the name text that is not empty.
func (s *Server) receive(q *request, textName string) (*tray, error) {
	t, err := s.receiveAny(q, textName)
	if err == nil && len(t.Files) == 0 {
		return nil, errors.Join(&study.Refusal{Fault: "no file is chosen",
			Try: "choose files, or drag them onto the page, and send the form again"}, os.RemoveAll(t.folder))
	}
	return t, err
}

// receiveAny is receive of a form that may have no file.
func (s *Server) receiveAny(q *request, textName string) (*tray, error) {
	folder, err := os.MkdirTemp("", "wane-upload-")
	if err != nil {
		return nil, cannotKeep(err)
	}
	t := &tray{id: rand.Text(), owner: q.session, folder: folder}
	if err := t.fill(q, textName); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	return t, nil
}

// keep keeps a tray until it is removed.
func (ts *trays) keep(t *tray) error {
	ts.mu.Lock()
	defer ts.mu.Unlock()
	var errs []error
	t.seen = ts.now()
	for id, old := range ts.all {
		if t.seen.Sub(old.seen) > longestTray {
			errs = append(errs, ts.drop(id))
		}
	}
	if len(ts.all) >= mostTrays {
		oldest := slices.MinFunc(ts.list(), func(a, b *tray) int { return a.seen.Compare(b.seen) })
		errs = append(errs, ts.drop(oldest.id))
	}
	ts.all[t.id] = t
	return errors.Join(errs...)
}

func (ts *trays) list() (all []*tray) {
	for _, t := range ts.all {
		if !t.isBusy() {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		for _, t := range ts.all {
			all = append(all, t)
		}
	}
	return all
}

// of returns the tray of a session; one that is not there is refused.
func (ts *trays) of(q *request) (*tray, error) {
	ts.mu.Lock()
	defer ts.mu.Unlock()
	t := ts.all[q.PathValue("tray")]
	if t == nil || t.owner != q.session || q.session == nil {
		return nil, &status{http.StatusNotFound, &study.Refusal{Fault: "these files are not here any more, or were uploaded by " +
			"another browser", Try: "upload them again: what was taken in already is known and skipped"}}
	}
	t.seen = ts.now()
	return t, nil
}

// remove removes a tray with its files.
func (ts *trays) remove(t *tray) error {
	ts.mu.Lock()
	defer ts.mu.Unlock()
	return ts.drop(t.id)
}

func (ts *trays) drop(id string) error {
	t := ts.all[id]
	if t == nil {
		return nil
	}
	delete(ts.all, id)
	return os.RemoveAll(t.folder)
}

// close removes all trays.
func (ts *trays) close() error {
	ts.mu.Lock()
	defer ts.mu.Unlock()
	var errs []error
	for id := range ts.all {
		errs = append(errs, ts.drop(id))
	}
	return errors.Join(errs...)
}

// fill writes the files of a form into the folder.
func (t *tray) fill(q *request, textName string) error {
	root, err := os.OpenRoot(t.folder)
	if err != nil {
		return cannotKeep(err)
	}
	defer root.Close()
	if q.MultipartForm != nil {
		for _, h := range q.MultipartForm.File["files"] {
			if h.Filename == "" {
				continue // no file was chosen
			}
			f, err := h.Open()
			if err != nil {
				return cannotKeep(err)
			}
			err = t.put(root, nameOf(h), f)
			if err := errors.Join(err, f.Close()); err != nil {
				return err
			}
		}
	}
	if text := q.PostFormValue("text"); strings.TrimSpace(text) != "" && textName != "" {
		text = strings.ReplaceAll(text, "\r\n", "\n")
		if err := t.put(root, textName, strings.NewReader(text)); err != nil {
			return err
		}
	}
	slices.Sort(t.Files)
	return nil
}

// nameOf is how a person calls a file: with its folders, if a whole folder was chosen.
func nameOf(h *multipart.FileHeader) string {
	_, values, err := mime.ParseMediaType(h.Header.Get("Content-Disposition"))
	if err != nil {
		return h.Filename
	}
	return cmp.Or(values["filename"], h.Filename)
}

// localName makes a name of a file in the tray of a name that somebody sent. It leads to nowhere else.
func localName(sent string) (string, error) {
	name := path.Clean("/" + strings.ReplaceAll(sent, `\`, "/"))[1:]
	if i := strings.IndexByte(name, ':'); i == 1 {
		name = strings.TrimPrefix(name[2:], "/") // a drive
	}
	fault, try := study.CheckCode(name)
	switch {
	case name == "" || name == "." || !filepath.IsLocal(filepath.FromSlash(name)):
		fault, try = "it is no name of a file", "give the file another name and upload it again"
	case len(name) > 200:
		fault, try = "it is longer than 200 characters", "give the file a shorter name and upload it again"
	}
	if fault != "" {
		return "", &study.Refusal{Fault: fmt.Sprintf("the name %q: %s", sent, fault),
			Try: cmp.Or(try, "give the file another name and upload it again")}
	}
	return name, nil
}

// put writes a file. Hidden files, as some systems have them in each folder, are left out.
func (t *tray) put(root *os.Root, sent string, from io.Reader) error {
	name, err := localName(sent)
	if err != nil {
		return err
	}
	for _, part := range strings.Split(name, "/") {
		if strings.HasPrefix(part, ".") {
			return nil
		}
	}
	if slices.Contains(t.Files, name) {
		return &study.Refusal{File: name, Fault: "two files have this name",
			Try: "upload them in their folders, in a zip file, or one after the other"}
	}
	if dir := path.Dir(name); dir != "." {
		if err := root.MkdirAll(filepath.FromSlash(dir), 0o700); err != nil {
			return cannotKeep(err)
		}
	}
	f, err := root.OpenFile(filepath.FromSlash(name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return cannotKeep(err)
	}
	_, err = io.Copy(f, from)
	if err := errors.Join(err, f.Close()); err != nil {
		return cannotKeep(err)
	}
	t.Files = append(t.Files, name)
	return nil
}

func cannotKeep(err error) error {
	return &study.Refusal{Fault: "an uploaded file cannot be kept for now", Cause: err,
		Try: "look whether the disk with the folder for temporary files is full, and upload again"}
}

// at is the path of a file of the tray.
func (t *tray) at(name string) string { return filepath.Join(t.folder, filepath.FromSlash(name)) }

// paths are the paths of files of the tray.
func (t *tray) paths(names []string) (all []string) {
	for _, n := range names {
		all = append(all, t.at(n))
	}
	return all
}

// plain takes the folder of the tray out of a text: people do not know it.
func (t *tray) plain(text string) string {
	return strings.ReplaceAll(text, t.folder+string(filepath.Separator), "")
}

// plainAll is plain of each.
func (t *tray) plainAll(lines []string) []string {
	all := make([]string, len(lines))
	for i, l := range lines {
		all[i] = t.plain(l)
	}
	return all
}

// linesOf is linesOf without the folder of the tray.
func (t *tray) linesOf(err error) []troubleLine {
	lines := linesOf(err)
	for i := range lines {
		lines[i] = troubleLine{t.plain(lines[i].Fault), t.plain(lines[i].Try)}
	}
	return lines
}

// without names the files as the person did in an error that a page shows.
func (t *tray) without(err error) error {
	if err == nil {
		return nil
	}
	return &inTray{err, t}
}

// inTray is an error about files of a tray.
type inTray struct {
	error
	tray *tray
}

func (e *inTray) Error() string { return e.tray.plain(e.error.Error()) }
func (e *inTray) Unwrap() error { return e.error }

// header returns the columns with which a file begins as a table; nil if it cannot be read.
func (t *tray) header(name string) []string {
	head := make([]byte, 4096)
	f, err := os.Open(t.at(name))
	if err != nil {
		return nil
	}
	n, _ := io.ReadFull(f, head) // a file may be shorter
	if f.Close() != nil {
		return nil
	}
	head = bytes.TrimPrefix(head[:n], []byte("\xef\xbb\xbf"))
	for line := range strings.Lines(string(head)) {
		if !strings.HasPrefix(line, "#") && strings.TrimSpace(line) != "" {
			return strings.FieldsFunc(strings.ToLower(line), func(c rune) bool { return strings.ContainsRune(",;\t \"\r\n", c) })
		}
	}
	return nil
}

// isMap reports whether a file begins as a map.
func (t *tray) isMap(name string) bool {
	has := t.header(name)
	return !slices.ContainsFunc([]string{"file", "column", "coupon", "pull"}, func(c string) bool { return !slices.Contains(has, c) })
}
