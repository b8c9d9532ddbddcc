package intake

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"wane/study"
)

// mostBytes is how large a file may be: far above any export.
const mostBytes = 256 << 20

// ReadFile reads a whole file, and says in our words why it cannot. A file of more
// than 256 MiB, or one without an end, is refused.
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
	return io.ReadAll(io.LimitReader(f, mostBytes+1))
}
