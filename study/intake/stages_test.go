package intake

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a stage has found is changed by no method of it: all take it by value, and none sets a
// field of it. Only the asker is shared, and nothing sets a field of that either.
func TestStagesAreValues(t *testing.T) {
	stages := map[string]bool{}
	for _, name := range strings.Fields("asker decoded section grid located columnsForm rowsForm pointsForm plan table") {
		stages[name] = true
	}
	paths, err := filepath.Glob("*.go")
	require.NoError(t, err)
	files := token.NewFileSet()
	methods := 0
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(files, path, nil, 0)
		require.NoError(t, err)
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Recv == nil {
				continue
			}
			of, shared := f.Recv.List[0].Type, false
			if star, ok := of.(*ast.StarExpr); ok {
				of, shared = star.X, true
			}
			name, ok := of.(*ast.Ident)
			if !ok || !stages[name.Name] {
				continue
			}
			methods++
			at := files.Position(f.Pos())
			assert.Equal(t, name.Name == "asker", shared, "%s: the receiver of %s", at, f.Name.Name)
			if names := f.Recv.List[0].Names; len(names) == 1 {
				assert.Empty(t, fieldsSet(f.Body, names[0].Name), "%s: %s sets fields of its receiver", at, f.Name.Name)
			}
		}
	}
	assert.Greater(t, methods, 100)
}

// fieldsSet returns the fields of a variable that statements set.
func fieldsSet(body *ast.BlockStmt, variable string) (fields []string) {
	ast.Inspect(body, func(n ast.Node) bool {
		assign, ok := n.(*ast.AssignStmt)
		if !ok {
			return true
		}
		for _, left := range assign.Lhs {
			field := ""
			for {
				s, ok := left.(*ast.SelectorExpr)
				if !ok {
					break
				}
				field, left = s.Sel.Name, s.X
			}
			if id, ok := left.(*ast.Ident); ok && id.Name == variable && field != "" {
				fields = append(fields, field)
			}
		}
		return true
	})
	return fields
}
