//go:build ignore

// measure prints how large packages, functions and lines are, and fails where a function is too
// long: go run .ci/measure.go, from the root of the project.
package main

import (
	"bytes"
	"cmp"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"log"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

const (
	widest  = 120 // characters of a line; a longer one is counted
	longest = 85  // lines of a function; a longer one fails
)

// room is what is counted of a package; a function is named with its lines.
type room struct {
	files, lines, exported int
	testFiles, testLines   int
	longLines              int
	errorfs, wrapping      int // calls of fmt.Errorf, and those that keep their cause by %w
	functions              []function
}

type function struct {
	name  string
	lines int
}

func main() {
	log.SetFlags(0)
	rooms := map[string]*room{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && path != "." && strings.HasPrefix(d.Name(), ".") {
			return cmp.Or(err, fs.SkipDir)
		}
		if d.IsDir() || filepath.Ext(path) != ".go" {
			return nil
		}
		folder := filepath.Dir(path)
		if rooms[folder] == nil {
			rooms[folder] = &room{}
		}
		return rooms[folder].add(path)
	})
	if err != nil {
		log.Fatal(err)
	}
	report(rooms)
}

// add counts one file.
func (r *room) add(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	lines := bytes.Count(text, []byte("\n"))
	for line := range strings.Lines(string(text)) {
		if len([]rune(strings.TrimSuffix(line, "\n"))) > widest {
			r.longLines++
		}
	}
	if strings.HasSuffix(path, "_test.go") {
		r.testFiles++
		r.testLines += lines
		return nil
	}
	r.files++
	r.lines += lines
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, text, 0)
	if err != nil {
		return err
	}
	r.names(file)
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			r.functions = append(r.functions, function{n.Name.Name, set.Position(n.End()).Line - set.Position(n.Pos()).Line + 1})
		case *ast.CallExpr:
			r.errorf(n)
		}
		return true
	})
	return nil
}

// names counts the exported names at the top of a file; methods do not count.
func (r *room) names(file *ast.File) {
	for _, decl := range file.Decls {
		switch d := decl.(type) {
		case *ast.FuncDecl:
			if d.Recv == nil && d.Name.IsExported() {
				r.exported++
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				switch s := spec.(type) {
				case *ast.TypeSpec:
					if s.Name.IsExported() {
						r.exported++
					}
				case *ast.ValueSpec:
					for _, name := range s.Names {
						if name.IsExported() {
							r.exported++
						}
					}
				}
			}
		}
	}
}

func (r *room) errorf(call *ast.CallExpr) {
	f, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || f.Sel.Name != "Errorf" || len(call.Args) == 0 {
		return
	}
	r.errorfs++
	if format, ok := call.Args[0].(*ast.BasicLit); ok && strings.Contains(format.Value, "%w") {
		r.wrapping++
	}
}

func report(rooms map[string]*room) {
	var all room
	fmt.Printf("%-28s %5s %6s %5s %6s %8s %5s  %s\n", "package", "files", "lines", "tests", "lines", "exported", "wide",
		"longest function")
	for _, folder := range slices.Sorted(maps.Keys(rooms)) {
		r := rooms[folder]
		var most function
		for _, f := range r.functions {
			if f.lines > most.lines {
				most = f
			}
		}
		fmt.Printf("%-28s %5d %6d %5d %6d %8d %5d  %s %d\n", folder, r.files, r.lines, r.testFiles, r.testLines, r.exported,
			r.longLines,
			most.name, most.lines)
		all.files, all.lines, all.exported = all.files+r.files, all.lines+r.lines, all.exported+r.exported
		all.testFiles, all.testLines, all.longLines = all.testFiles+r.testFiles, all.testLines+r.testLines,
			all.longLines+r.longLines
		all.errorfs, all.wrapping = all.errorfs+r.errorfs, all.wrapping+r.wrapping
		all.functions = append(all.functions, r.functions...)
	}
	fmt.Printf("%-28s %5d %6d %5d %6d %8d %5d\n", "all", all.files, all.lines, all.testFiles, all.testLines,
		all.exported, all.longLines)
	slices.SortFunc(all.functions, func(a, b function) int { return cmp.Compare(a.lines, b.lines) })
	n := len(all.functions)
	at := func(part float64) int { return all.functions[min(int(part*float64(n)), n-1)].lines }
	fmt.Printf("\n%d functions: middle %d lines, 90 %% %d, 99 %% %d, longest %d\n", n, at(0.5), at(0.9), at(0.99), at(1))
	fmt.Printf("test lines per line of code: %.2f\n", float64(all.testLines)/float64(all.lines))
	fmt.Printf("errors that keep their cause (%%w): %d of %d\n", all.wrapping, all.errorfs)
	if readme, err := os.Stat("README.md"); err == nil {
		fmt.Printf("README.md: %d bytes\n", readme.Size())
	}
	if at(1) > longest {
		log.Fatalf("a function has more than %d lines: make parts of it", longest)
	}
}
