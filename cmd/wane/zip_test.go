package main

import (
	"archive/zip"
	"bytes"
	"os"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// packZip makes a zip file: zip OUT.zip NAME=FILE...
func packZip(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("write zip OUT.zip NAME=FILE...")
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, arg := range args[1:] {
		name, file, ok := strings.Cut(arg, "=")
		if !ok {
			ts.Fatalf("%s is not NAME=FILE", arg)
		}
		member, err := w.Create(name)
		ts.Check(err)
		_, err = member.Write([]byte(ts.ReadFile(file)))
		ts.Check(err)
	}
	ts.Check(w.Close())
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o644))
}
