package source

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"sync/atomic"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake/text"
)

// Bounds of zip files, far above any folder of exports. Common practice, no source.
const (
	mostMembers   = 20_000
	mostDirectory = 4 << 20 // bytes read to list the members
	mostRatio     = 200     // of a member's bytes to its packed bytes; text is packed to a tenth or so
	smallMember   = 1 << 20 // bytes up to which the ratio is not looked at
)

// archive is a zip file that is open, or the fault for which it is not.
type archive struct {
	path    string
	users   int // guarded by Files
	fault   error
	file    *os.File // nil if it could not be opened
	bytes   int64
	members map[string]*zip.File
	names   []string // of the members that are not hidden, sorted
}

func (a *archive) refuse(try, format string, args ...any) error {
	return &study.Refusal{File: a.path, Fault: fmt.Sprintf(format, args...), Try: try}
}

func openArchive(path string) *archive {
	a := &archive{path: path}
	file, err := openFile(path, os.Stat, os.OpenFile)
	if err != nil {
		a.fault = err
		return a
	}
	a.file = file
	info, err := file.Stat()
	if err != nil {
		a.fault = unreadable(path, err)
		return a
	}
	a.fault = a.list(file, info.Size())
	return a
}

func (a *archive) close() error {
	if a.file == nil {
		return nil
	}
	return a.file.Close()
}

// rationed reads no more than so many bytes, so that a list of members that never
// ends is not held in memory.
type rationed struct {
	from io.ReaderAt
	left atomic.Int64
}

var errRation = errors.New("the list of members is too long")

func (r *rationed) ReadAt(p []byte, at int64) (int, error) {
	if r.left.Add(-int64(len(p))) < 0 {
		return 0, errRation
	}
	return r.from.ReadAt(p, at)
}

// list reads the names of the members. Nothing is ever written under them, yet a
// name that leads out of the zip file says that no lab packed it.
func (a *archive) list(from io.ReaderAt, size int64) error {
	a.bytes = size
	ration := &rationed{from: from}
	ration.left.Store(mostDirectory)
	r, err := zip.NewReader(ration, size)
	ration.left.Store(1 << 62) // members have bounds of their own
	switch {
	case errors.Is(err, errRation):
		return a.refuse("pack the exports into several zip files", "the list of members has more than %d MiB",
			mostDirectory>>20)
	case err != nil && !errors.Is(err, zip.ErrInsecurePath): // the names are looked at below
		return a.refuse("pack the exports again", "this is no zip file, or one that is cut off")
	case len(r.File) > mostMembers:
		return a.refuse("pack the exports into several zip files", "it has %s, and may have %d",
			text.Count(len(r.File), "member"), mostMembers)
	}
	a.members = map[string]*zip.File{}
	files, folders := map[string]string{}, map[string]bool{}
	var keys []string // of the files
	for _, m := range r.File {
		name, err := a.name(m)
		if err != nil {
			return err
		}
		key := folded(name)
		for up := path.Dir(key); up != "." && !folders[up]; up = path.Dir(up) {
			folders[up] = true
		}
		if m.Mode().IsDir() {
			folders[key] = true
			continue
		}
		switch twin, twice := files[key]; {
		case twin == name:
			return a.refuse(ownName, "two members have the name %s", text.Quoted(name))
		case twice:
			return a.refuse(ownName, "the members %s and %s have one name where case or the form of letters does not count",
				text.Quoted(twin), text.Quoted(name))
		}
		files[key], a.members[name], keys = name, m, append(keys, key)
	}
	for _, key := range keys {
		name := files[key]
		switch {
		case folders[key]:
			return a.refuse(ownName, "a file and a folder have the name %s", text.Quoted(name))
		case !a.members[name].Mode().IsRegular():
			delete(a.members, name) // a link, which is not followed
		case !slices.ContainsFunc(strings.Split(name, "/"), isHidden):
			a.names = append(a.names, name)
		}
	}
	slices.Sort(a.names)
	return nil
}

const ownName = "give each file a name of its own and pack again"

// folded returns what a name is where neither case counts nor whether a letter is
// one character or two. Source: The Unicode Standard, section 3.13, D145, canonical
// caseless match (from memory).
func folded(name string) string {
	return norm.NFD.String(cases.Fold().String(norm.NFD.String(name)))
}

// inner returns the zip file in this one at or above a name, or "".
func (a *archive) inner(name string) string {
	for end := len(name); end > 0; end = strings.LastIndexByte(name[:end], '/') {
		if up := name[:end]; isZip(up) && a.members[up] != nil {
			return up
		}
	}
	return ""
}

// faultOf returns why a member is skipped whatever it holds, or nil.
func (a *archive) faultOf(name string) error {
	if inner := a.inner(name); inner != "" {
		return &study.Refusal{File: a.path + "/" + inner, Fault: "a zip file in a zip file is not opened",
			Try: "unpack it and pack its files into the outer one, or give it by itself"}
	}
	return nil
}

// name returns the name of a member, or refuses one that no file in a folder can
// have. Names that are not in UTF-8 are in code page 437. Source: APPNOTE.TXT,
// appendix D, from memory.
func (a *archive) name(m *zip.File) (string, error) {
	name := strings.TrimSuffix(m.Name, "/")
	if !utf8.ValidString(name) {
		var err error
		if name, err = charmap.CodePage437.NewDecoder().String(name); err != nil {
			return "", a.refuse("pack the exports again", "a member's name is no text")
		}
	}
	fault := ""
	switch {
	case strings.Contains(name, `\`):
		fault = "has a backslash in its name"
	case strings.HasPrefix(name, "/") || len(name) > 1 && name[1] == ':':
		fault = "has an absolute name"
	case slices.Contains(strings.Split(name, "/"), ".."):
		fault = "has a name that leads out of the zip file"
	case !fs.ValidPath(name) || name == "." || strings.ContainsFunc(name, unicode.IsControl):
		fault = "has a name that no file can have"
	}
	if fault != "" {
		return "", a.refuse("unpack it somewhere safe, look at what is in it, and pack the exports again",
			"the member %s %s", text.Quoted(name), fault)
	}
	return name, nil
}

// member returns a member that can be read.
func (a *archive) member(name string) (*zip.File, error) {
	if a.fault != nil {
		return nil, a.fault
	}
	if err := a.faultOf(name); err != nil {
		return nil, err
	}
	m := a.members[name]
	refuse := func(try, format string, args ...any) (*zip.File, error) {
		return nil, &study.Refusal{File: a.path + "/" + name, Fault: fmt.Sprintf(format, args...), Try: try}
	}
	const again = "pack the file again, or give the file itself"
	switch {
	case m == nil:
		return refuse("check the name and the folder", "there is no such file in the zip file")
	case m.Flags&(1|1<<6|1<<13) != 0:
		return refuse("pack it without a password, or give the file itself", "the file is encrypted")
	case m.Method != zip.Store && m.Method != zip.Deflate:
		return refuse("pack it with the method deflate, or give the file itself",
			"the file is packed by method %d, which is not read", m.Method)
	case m.UncompressedSize64 > mostBytes:
		return refuse("give an export, or cut it into parts", "the file has more than %d MiB unpacked", mostBytes>>20)
	case m.CompressedSize64 > uint64(a.bytes):
		return refuse(again, "the zip file is shorter than this file in it")
	case m.UncompressedSize64 > smallMember && m.UncompressedSize64/mostRatio > m.CompressedSize64:
		return refuse("give the file itself, if it is an export", "the file unpacks to more than %d times its packed size",
			mostRatio)
	}
	return m, nil
}

func (a *archive) size(name string) int64 {
	m, err := a.member(name)
	if err != nil {
		return 0
	}
	return int64(m.UncompressedSize64)
}

// read unpacks a member, to as many bytes as the zip file says and no more.
func (a *archive) read(name string) ([]byte, error) {
	m, err := a.member(name)
	if err != nil {
		return nil, err
	}
	data, err := unpackMember(m)
	if err != nil {
		return nil, &study.Refusal{File: a.path + "/" + name, Fault: "the file does not unpack to what the zip file says",
			Try: "pack the file again, or give the file itself", Cause: err}
	}
	return data, nil
}

func unpackMember(m *zip.File) (data []byte, err error) {
	r, err := m.Open()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	data = make([]byte, m.UncompressedSize64)
	if _, err := io.ReadFull(r, data); err != nil {
		return nil, err
	}
	// the end, where the reader compares length and checksum
	if _, err := io.ReadFull(r, make([]byte, 1)); err != io.EOF {
		return nil, err
	}
	return data, nil
}
