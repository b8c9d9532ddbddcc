package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"wane": main,
	})
}

// TestScripts runs testdata/script: a command, what each stream must hold, what
// must not exist afterwards. The environment variable EXPORTS names the folder
// of made-up export samples, WORKBOOKS that of made-up workbooks; binary.dat is a file that is no text; the command
// zip packs files, sql alters a study, and demo FOLDER makes what wane demo writes.
func TestScripts(t *testing.T) {
	exports, err := filepath.Abs("../../testdata/exports")
	require.NoError(t, err)
	workbooks, err := filepath.Abs("../../study/intake/workbook/testdata")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){"zip": packZip,
			"sql": alterBySQL, "demo": copyDemo},
		Setup: func(env *testscript.Env) error {
			env.Setenv("EXPORTS", exports)
			env.Setenv("WORKBOOKS", workbooks)
			return os.WriteFile(filepath.Join(env.WorkDir, "binary.dat"), []byte("PK\x03\x04\x00\x00\x08\x00\xff\xfe\x00\x81"),
				0o644)
		},
	})
}

// madeDemo is what wane demo writes, made once: it takes some seconds.
var madeDemo = sync.OnceValues(func() (fstest.MapFS, error) {
	folder, err := os.MkdirTemp("", "wane-demo-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	var stderr bytes.Buffer
	if code := run(context.Background(), []string{"demo", filepath.Join(folder, "d")}, io.Discard, &stderr); code != exitDone {
		return nil, errors.New(stderr.String())
	}
	made, from := fstest.MapFS{}, os.DirFS(filepath.Join(folder, "d"))
	return made, fs.WalkDir(from, ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := fs.ReadFile(from, path)
		made[path] = &fstest.MapFile{Data: data, Mode: 0o644}
		return err
	})
})

// demoIn puts what wane demo writes into a folder.
func demoIn(folder string) error {
	made, err := madeDemo()
	if err != nil {
		return err
	}
	return os.CopyFS(folder, made)
}

// copyDemo is the command demo FOLDER of scripts, for those that need what wane demo writes and do not test the command.
func copyDemo(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: demo FOLDER")
	}
	ts.Check(demoIn(ts.MkAbs(args[0])))
}
