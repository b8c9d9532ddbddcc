package source

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"wane/study"
)

// mostPicture is how large a picture may be.
const mostPicture = 64 << 20

// ReadPicture reads a picture that a row of a table in the folder names. One that is empty
// or larger than 64 MiB is refused, and one outside the folder, where a link may lead: a
// table from elsewhere takes no other file of this machine into the study.
func ReadPicture(folder, named string) (data []byte, err error) {
	inner := filepath.FromSlash(named)
	name := filepath.Join(folder, inner)
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, unreadable(name, err)
	}
	defer func() {
		if closing := root.Close(); err == nil && closing != nil {
			err = unreadable(name, closing)
		}
	}()
	if _, err := root.Stat(inner); err != nil {
		if _, there := os.Stat(name); there == nil {
			return nil, &study.Refusal{File: name, Fault: "this leads out of the folder of the table",
				Try: "put the picture itself into the folder of the table, or below it"}
		}
	}
	f, err := openFile(name,
		func(string) (fs.FileInfo, error) { return root.Stat(inner) },
		func(_ string, flag int, perm fs.FileMode) (*os.File, error) { return root.OpenFile(inner, flag, perm) })
	if err != nil {
		return nil, err
	}
	data, err = readAll(name, f)
	switch {
	case err != nil:
		return nil, err
	case len(data) == 0:
		return nil, &study.Refusal{File: name, Fault: "the file is empty", Try: "save the picture again"}
	case len(data) > mostPicture:
		return nil, &study.Refusal{File: name,
			Fault: fmt.Sprintf("the picture has %d bytes, more than %d MiB", len(data), mostPicture>>20),
			Try:   "save it smaller or compressed"}
	}
	return data, nil
}
