package source

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"syscall"

	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake/workbook"
)

// mostBytes is how large a file may be, by itself or in a zip file: far above any
// export. Common practice, no source.
const mostBytes = 100 << 20

// ReadFile reads a whole file, and says in our words why it cannot. A file of more
// than 100 MiB, and what is no file, such as a pipe, are refused. It needs no more memory
// than the file has bytes.
func ReadFile(name string) ([]byte, error) {
	f, err := openFile(name, os.Stat, os.OpenFile)
	if err != nil {
		return nil, err
	}
	return readAll(name, f)
}

// ReadTable is [ReadFile] for a table that a person writes, which may be a sheet of a workbook: NAME.xlsx#Sheet.
func ReadTable(name string) ([]byte, error) {
	file, _ := workbook.Split(name)
	return ReadFile(file)
}

// Open opens a file that [ReadFile] would read, to go back and forth in it. Every error is a
// [*study.Refusal].
func Open(name string) (*os.File, error) {
	f, err := openFile(name, os.Stat, os.OpenFile)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err == nil {
		err = checkSize(name, info)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// OpenLarge is [Open] for a file of any size, to be read from its begin to its end.
func OpenLarge(name string) (*os.File, error) { return openFile(name, os.Stat, os.OpenFile) }

// openFile opens a file to be read by the functions given, which look names up and open
// them as [os.Stat] and [os.OpenFile] do. What is there but is no file is refused before it
// is opened: to open a pipe or a device may wait without an end, or do something. Every
// error is a [*study.Refusal].
func openFile(
	name string, stat func(string) (fs.FileInfo, error), open func(string, int, fs.FileMode) (*os.File, error),
) (*os.File, error) {
	info, err := stat(name)
	if err != nil {
		return nil, unreadable(name, err)
	}
	if err := checkRegular(name, info); err != nil {
		return nil, err
	}
	f, err := open(name, os.O_RDONLY|syscall.O_NONBLOCK, 0) // a pipe may have come in its place
	if err != nil {
		return nil, unreadable(name, err)
	}
	if info, err = f.Stat(); err != nil {
		err = unreadable(name, err)
	} else {
		err = checkRegular(name, info)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// checkRegular refuses what is no file to go back and forth in.
func checkRegular(name string, info fs.FileInfo) error {
	kind := ""
	switch mode := info.Mode(); {
	case mode.IsRegular():
		return nil
	case mode.IsDir():
		return &study.Refusal{File: name, Fault: "could not read the file: it is a folder",
			Try: "give the files in it by their names"}
	case mode&fs.ModeNamedPipe != 0:
		kind = "a pipe"
	case mode&fs.ModeSocket != 0:
		kind = "a socket"
	case mode&fs.ModeDevice != 0:
		kind = "a device"
	default:
		kind = "something else"
	}
	return &study.Refusal{File: name, Fault: "this is no file but " + kind,
		Try: "write what comes from there into a file, and name that file instead"}
}

func checkSize(name string, info fs.FileInfo) error {
	if info.Size() > mostBytes {
		return &study.Refusal{File: name, Fault: fmt.Sprintf("the file has more than %d MiB", mostBytes>>20),
			Try: "give an export, or cut it into parts"}
	}
	return nil
}

// unreadable says why a file cannot be read.
func unreadable(name string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		if twin := foldedName(name); twin != "" {
			return &study.Refusal{File: name,
				Fault: "there is no such file, but one whose name has the same letters in another Unicode form: " +
					strconv.QuoteToASCII(twin),
				Try: "rename that file, or write its name with the same characters"}
		}
		return &study.Refusal{File: name, Fault: "there is no such file", Try: "check the name and the folder"}
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return &study.Refusal{File: name, Fault: "could not read the file",
		Try: "check that it is a file that you may read", Cause: err}
}

// foldedName returns the name of the file beside a missing one whose letters are the same, but
// composed or decomposed as in the names of another system, or "".
func foldedName(name string) string {
	base := filepath.Base(name)
	entries, err := os.ReadDir(filepath.Dir(name))
	if err != nil {
		return "" // the file is missing
	}
	for _, e := range entries {
		if e.Name() != base && norm.NFC.String(e.Name()) == norm.NFC.String(base) {
			return e.Name()
		}
	}
	return ""
}

// readAll reads a file that was opened, and closes it.
func readAll(name string, f *os.File) (data []byte, err error) {
	defer func() {
		if closing := f.Close(); err == nil && closing != nil {
			data, err = nil, unreadable(name, closing)
		}
	}()
	info, err := f.Stat()
	if err != nil {
		return nil, unreadable(name, err)
	}
	if err := checkSize(name, info); err != nil {
		return nil, err
	}
	data = make([]byte, info.Size()+1)
	switch n, err := io.ReadFull(f, data); {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return data[:n:n], nil
	case err != nil:
		return nil, unreadable(name, err)
	}
	return nil, unreadable(name, errGrew)
}

var errGrew = errors.New("it contains more than its size says, or grew while it was read")
