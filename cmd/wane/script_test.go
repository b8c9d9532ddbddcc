package main

import (
	"os"
	"path/filepath"
	"testing"

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
// zip packs files, and sql alters a study.
func TestScripts(t *testing.T) {
	exports, err := filepath.Abs("../../testdata/exports")
	require.NoError(t, err)
	workbooks, err := filepath.Abs("../../study/intake/workbook/testdata")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){"zip": packZip,
			"sql": alterBySQL},
		Setup: func(env *testscript.Env) error {
			env.Setenv("EXPORTS", exports)
			env.Setenv("WORKBOOKS", workbooks)
			return os.WriteFile(filepath.Join(env.WorkDir, "binary.dat"), []byte("PK\x03\x04\x00\x00\x08\x00\xff\xfe\x00\x81"),
				0o644)
		},
	})
}
