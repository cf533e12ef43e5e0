package main

import (
	"go/ast"
	"go/parser"
	"path"
	"strings"
	"testing"
)

const (
	rapidPath = "pgregory.net/rapid"
	seedPath  = "rowbell/engine/rapidseed"
)

// Property tests draw the same values in every run, because their package imports rapidseed. A property test calls
// rapid.Check itself, because .ci/explore finds property tests by the function that contains this call.
func TestHousePropertyTestsAreRepeatable(t *testing.T) {
	uses, seeded := map[string]string{}, map[string]bool{}
	tests := map[string]bool{} // the keys are "folder TestName"
	for _, f := range houseFiles(t) {
		if path.Ext(f) != ".go" {
			continue
		}
		file, _ := houseParse(t, f, parser.SkipObjectResolution)
		isTest := strings.HasSuffix(f, "_test.go")
		for _, imp := range file.Imports {
			switch p := strings.Trim(imp.Path.Value, `"`); {
			case path.Dir(f) == "engine/rapidseed":
			case p == rapidPath:
				uses[path.Dir(f)] = f
			case p == seedPath:
				seeded[path.Dir(f)] = true
			}
		}
		for _, d := range file.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || !isTest {
				continue
			}
			if strings.HasPrefix(fn.Name.Name, "Test") {
				tests[path.Dir(f)+" "+fn.Name.Name] = true
			} else if path.Dir(f) != "engine/rapidseed" && checksProperty(fn) {
				t.Errorf("%s: %s checks a property: move the check into the test", f, fn.Name.Name)
			}
		}
	}
	if len(uses) < 5 {
		t.Errorf("only %d packages use rapid: the test looks in the wrong place", len(uses))
	}
	for dir, f := range uses {
		if !seeded[dir] {
			t.Errorf("%s uses rapid: a test file of %s must import _ %q", f, dir, seedPath)
		}
	}
	for _, f := range houseFiles(t) {
		dir, kept, ok := strings.Cut(f, "/testdata/rapid/")
		if name, file, _ := strings.Cut(kept, "/"); ok && !keptFor(tests, dir, name, file) {
			t.Errorf("%s belongs to no test and is never run", f)
		}
	}
}

// checksProperty reports whether fn calls rapid.Check or rapid.MakeCheck.
func checksProperty(fn *ast.FuncDecl) (found bool) {
	ast.Inspect(fn, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok && strings.HasSuffix(sel.Sel.Name, "Check") {
			x, ok := sel.X.(*ast.Ident)
			found = found || ok && x.Name == "rapid"
		}
		return !found
	})
	return found
}

// keptFor reports whether a property test still reads the file testdata/rapid/NAME/NAME-*.fail, in which package rapid
// stored a failure. NAME is the name of the test; for a subtest, an underscore and its name follow.
func keptFor(tests map[string]bool, dir, name, file string) bool {
	if !strings.HasPrefix(file, name+"-") || path.Ext(file) != ".fail" {
		return false
	}
	for n := name; n != ""; n = n[:max(0, strings.LastIndex(n, "_"))] {
		if tests[dir+" "+n] {
			return true
		}
	}
	return false
}
