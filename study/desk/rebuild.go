package desk

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/store"
)

// Rebuild makes a study in a file that must not exist, of a folder that [Desk.Export] wrote: its rows, its
// log with all times and hashes and so its results are those of the study that was exported. No line is
// added to the log. A file of the export that was changed is a [*study.Refusal], of rows with their line;
// files that are not there are no fault, but those of rows are. Notes says how many are not there.
func Rebuild(ctx context.Context, path, folder string, who Person) (d *Desk, notes []string, err error) {
	if err := checkNew(path, who); err != nil {
		return nil, nil, err
	}
	e, err := readExport(folder)
	if err != nil {
		return nil, nil, &study.Refusal{File: folder, Fault: "the folder is no export of a study: " + err.Error(),
			Try: "name a folder that `wane export DIR` wrote", Cause: err}
	}
	missing, err := e.checkBeside(ctx)
	if err != nil {
		return nil, nil, err
	}
	if missing > 0 {
		notes = append(notes, fmt.Sprintf("files of the export that are not there: %d; the study is made of those in %s, "+
			"which are whole", missing, filepath.Join(folder, exportRows)))
	}
	d = &Desk{who: who.Name, now: who.clock()}
	d.store, err = store.Rebuild(ctx, path, store.Dump{Open: e.openRows, Path: e.pathOfRows})
	if err != nil {
		return nil, nil, err
	}
	d, err = d.witnessed(ctx, who)
	return d, notes, err
}

// checkBeside compares the files beside those of the rows with their SHA-256, and returns how many are not there.
func (e *exportBefore) checkBeside(ctx context.Context) (missing int, err error) {
	for _, name := range e.names() {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if strings.HasPrefix(name, exportRows+"/") && name != exportRows+"/schema.sql" {
			continue
		}
		if _, err := os.Stat(e.path(name)); errors.Is(err, fs.ErrNotExist) {
			missing++
			continue
		}
		err := e.check(name)
		var refusal *study.Refusal
		if errors.As(err, &refusal) {
			own := *refusal
			own.Try = "put the file back as it was; or remove it: the study is made of the files in " +
				filepath.Join(e.folder, exportRows)
			return 0, &own
		}
		if err != nil {
			return 0, err
		}
	}
	return missing, nil
}
