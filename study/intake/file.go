package intake

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"wane/study"
)

// mostBytes is how large a file may be, by itself or in a zip file: far above any
// export. Common practice, no source.
const mostBytes = 100 << 20

// ReadFile reads a whole file, and says in our words why it cannot. A file of more
// than 100 MiB, or one without an end, is refused. It needs no more memory than the
// file has bytes.
func ReadFile(name string) ([]byte, error) {
	data, err := readLimited(name)
	var path *fs.PathError
	switch {
	case err == nil && len(data) > mostBytes:
		return nil, &study.Refusal{File: name, Fault: fmt.Sprintf("the file holds more than %d MiB", mostBytes>>20), Try: "give an export, or cut it into parts"}
	case err == nil:
		return data, nil
	case errors.Is(err, fs.ErrNotExist):
		return nil, &study.Refusal{File: name, Fault: "there is no such file", Try: "check the name and the folder"}
	case errors.As(err, &path):
		err = path.Err
	}
	return nil, &study.Refusal{File: name, Fault: "could not read the file", Try: "check that it is a file that you may read", Cause: err}
}

func readLimited(name string) (data []byte, err error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	room := int64(mostBytes) // of a pipe: what is not filled takes no memory
	if info.Mode().IsRegular() && info.Size() > 0 {
		room = min(room, info.Size())
	}
	data = make([]byte, room+1)
	switch n, err := io.ReadFull(f, data); {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return data[:n:n], nil
	case err == nil && room < mostBytes:
		return nil, errGrew
	default:
		return data, err
	}
}

var errGrew = errors.New("it grew while it was read")
