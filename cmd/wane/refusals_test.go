package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A refusal that came from elsewhere (var r *study.Refusal, filled by errors.As) may be
// held by others too: no code edits one. Who knows more makes another, by About or At.
func TestRefusalsAreNotEdited(t *testing.T) {
	places := 0
	for _, root := range []string{".", "../../study"} {
		require.NoError(t, filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			files := token.NewFileSet()
			file, err := parser.ParseFile(files, path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			for _, d := range file.Decls {
				if f, ok := d.(*ast.FuncDecl); ok && f.Body != nil {
					places += len(caught(f))
					for _, at := range edited(f, caught(f)) {
						assert.Fail(t, "a refusal is edited in place", "%v", files.Position(at))
					}
				}
			}
			return nil
		}))
	}
	assert.Greater(t, places, 20, "places that catch a refusal are found")
}

// caught returns the variables of a function that are declared as refusals or failures.
func caught(f *ast.FuncDecl) map[string]bool {
	names := map[string]bool{}
	ast.Inspect(f, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		pointer, ok := spec.Type.(*ast.StarExpr)
		if !ok {
			return true
		}
		of, ok := pointer.X.(*ast.SelectorExpr)
		if ok && (of.Sel.Name == "Refusal" || of.Sel.Name == "Failure") {
			for _, name := range spec.Names {
				names[name.Name] = true
			}
		}
		return true
	})
	return names
}

// edited returns where a function assigns to a field of one of these variables.
func edited(f *ast.FuncDecl, names map[string]bool) (at []token.Pos) {
	ast.Inspect(f, func(n ast.Node) bool {
		assign, ok := n.(*ast.AssignStmt)
		if !ok {
			return true
		}
		for _, left := range assign.Lhs {
			field, ok := left.(*ast.SelectorExpr)
			if !ok {
				continue
			}
			if of, ok := field.X.(*ast.Ident); ok && names[of.Name] {
				at = append(at, left.Pos())
			}
		}
		return true
	})
	return at
}
