package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/intake/source"
	"wane/study/store"
)

// ReportPage is a report to be written: a page, and the tables in the folder beside it.
type ReportPage struct {
	Path   string
	Begin  string // with which the page of each report begins
	Page   []byte
	Folder string
	Tables []ReportTable
}

// ReportTable is a table of a report, as CSV.
type ReportTable struct {
	Name string // of its file
	CSV  []byte
}

const onlyReports = "; only a report that nobody changed is replaced"

// WriteReport writes a report with the permissions of the study: first its tables with their SHA256SUMS, and then its
// page, each whole or not at all. A page and a folder that are there are replaced if they are those of a report: the
// page begins as one, and the folder has the files of its SHA256SUMS as they were made, and nothing else.
func (d *Desk) WriteReport(ctx context.Context, p *ReportPage) error {
	if err := mayReplacePage(p); err != nil {
		return err
	}
	if err := mayReplaceTables(ctx, p.Folder); err != nil {
		return err
	}
	mode, err := d.Mode()
	if err != nil {
		return err
	}
	err = store.ReplaceFolder(p.Folder, folderMode(mode), func(folder string) error {
		var sums strings.Builder
		for _, t := range p.Tables {
			sum := sha256.Sum256(t.CSV)
			fmt.Fprintf(&sums, "%s  %s\n", hex.EncodeToString(sum[:]), t.Name)
			if err := store.CreateUnsynced(filepath.Join(folder, t.Name), mode, t.CSV); err != nil {
				return err
			}
		}
		return store.CreateUnsynced(filepath.Join(folder, sumsName), mode, []byte(sums.String()))
	})
	if err != nil {
		return err
	}
	return WriteFile(p.Path, mode, p.Page)
}

// mayReplacePage refuses a file that is no page of a report.
func mayReplacePage(p *ReportPage) error {
	if _, err := os.Stat(p.Path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	old, err := source.ReadFile(p.Path)
	if err != nil {
		return err
	}
	if !strings.HasPrefix(string(old), p.Begin) {
		return &study.Refusal{File: p.Path, Fault: "the file is there, and is no report", Try: "name another file"}
	}
	return nil
}

// mayReplaceTables refuses a folder that has something else in it than the tables of a report, as they were made.
func mayReplaceTables(ctx context.Context, folder string) error {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	const try = "move it elsewhere, or give the report another name"
	if err != nil {
		return &study.Refusal{File: folder, Fault: "could not read the folder", Try: try, Cause: err}
	}
	if len(entries) == 0 {
		return nil
	}
	made, err := readExport(folder)
	if err != nil {
		return &study.Refusal{File: folder, Fault: "the folder is there, and has no tables of a " +
			"report" + onlyReports, Try: try}
	}
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		if e.Name() != sumsName && (!strings.HasSuffix(e.Name(), ".csv") || made.check(e.Name()) != nil) {
			return &study.Refusal{File: folder, Try: try,
				Fault: study.Shown(e.Name()) + " is no table of a report, or was changed" + onlyReports}
		}
	}
	return nil
}
