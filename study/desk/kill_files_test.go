package desk

import (
	"archive/zip"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/store"
)

// killedFiles are what the child of TestKilledAtAnyMoment writes beside the study, after killedVerbs.
var killedFiles = []killedVerb{
	{"export", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Export(ctx, exportedFolder(f.path, lot), ExportOptions{Formats: []string{"csv"}, History: true})
		return err
	}},
	{"rebuild", func(ctx context.Context, d *Desk, f folder, lot string) error {
		again, _, err := Rebuild(ctx, filepath.Join(f.path, lot+"-rebuild.wane"), exportedFolder(f.path, lot), tester())
		if err != nil {
			return err
		}
		return again.Close()
	}},
	{"workbook", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.ExportWorkbook(ctx, filepath.Join(f.path, lot+"-workbook.xlsx"), true)
		return err
	}},
	{"backup", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Backup(ctx, filepath.Join(f.path, lot+"-backup.wane"))
		return err
	}},
}

// exportedFolder is the folder to which a process exports lot after lot, so that it also replaces exports.
func exportedFolder(folder, lot string) string {
	process, _, _ := strings.Cut(lot, "-")
	return filepath.Join(folder, "exported-"+process)
}

// checkFilesAfterKill looks at all that processes wrote beside the study: each file and folder is whole, what was
// acknowledged is there, and what a killed process had in the making is swept away. Then it removes them.
func checkFilesAfterKill(t *testing.T, path string, acked []string) {
	t.Helper()
	folder := filepath.Dir(path)
	for _, a := range acked {
		verb, lot, _ := strings.Cut(a, " ")
		switch verb {
		case "export":
			assert.DirExists(t, exportedFolder(folder, lot))
		case "workbook":
			assert.FileExists(t, filepath.Join(folder, lot+"-workbook.xlsx"))
		case "backup", "rebuild":
			assert.FileExists(t, filepath.Join(folder, lot+"-"+verb+".wane"))
		}
	}
	store.Sweep(folder)
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		name := filepath.Join(folder, e.Name())
		assert.False(t, strings.HasPrefix(e.Name(), "."), "%s is in the making for ever", e.Name())
		switch {
		case name == path:
			continue
		case e.IsDir():
			wholeExport(t, name)
		case filepath.Ext(name) == ".xlsx":
			wholeWorkbook(t, name)
		case filepath.Ext(name) == ".wane":
			wholeStudy(t, name)
		default:
			continue
		}
		require.NoError(t, os.RemoveAll(name))
	}
}

// wholeExport looks that a folder has the files of an export, and no other ones.
func wholeExport(t *testing.T, folder string) {
	t.Helper()
	e, err := readExport(folder)
	require.NoError(t, err)
	assert.NoError(t, e.unchanged(t.Context(), ""))
	for _, name := range e.names() {
		assert.FileExists(t, e.path(name))
	}
}

func wholeWorkbook(t *testing.T, path string) {
	t.Helper()
	z, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer z.Close()
	for _, part := range z.File {
		r, err := part.Open()
		require.NoError(t, err)
		_, err = io.Copy(io.Discard, r) // checks the CRC-32 at the end
		assert.NoError(t, err, "%s of %s", part.Name, path)
		require.NoError(t, r.Close())
	}
}

func wholeStudy(t *testing.T, path string) {
	t.Helper()
	d, err := Open(t.Context(), path, tester())
	require.NoError(t, err)
	report, err := d.store.Verify(t.Context())
	require.NoError(t, err)
	assert.Empty(t, report.Findings, path)
	require.NoError(t, d.Close())
}
