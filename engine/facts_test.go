package engine

import (
	"go/ast"
	"go/build"
	"go/constant"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// source is the parsed and type-checked code of package engine, without its test files.
type source struct {
	fset  *token.FileSet
	files []*ast.File
	pkg   *types.Package
}

func readSource(t *testing.T) source {
	t.Helper()
	names := must(os.ReadDir("."))
	s := source{fset: token.NewFileSet()}
	for _, n := range names {
		if !strings.HasSuffix(n.Name(), ".go") || strings.HasSuffix(n.Name(), "_test.go") {
			continue
		}
		s.files = append(s.files, must(parser.ParseFile(s.fset, n.Name(), nil, 0)))
	}
	if len(s.files) < 5 {
		t.Fatalf("only %d source files found", len(s.files))
	}
	if build.Default.GOROOT == "" { // empty if the test was built with -trimpath, but the importer needs it
		build.Default.GOROOT = strings.TrimSpace(string(must(exec.Command("go", "env", "GOROOT").Output())))
	}
	conf := types.Config{Importer: importer.ForCompiler(s.fset, "source", nil)}
	s.pkg = must(conf.Check("rowbell/engine", s.fset, s.files, nil))
	return s
}

// constants returns the numeric constants of the package, without the members of enumerations, which have a named type.
func (s source) constants() map[string]float64 {
	found := map[string]float64{}
	for _, name := range s.pkg.Scope().Names() {
		c, ok := s.pkg.Scope().Lookup(name).(*types.Const)
		if !ok {
			continue
		}
		if basic, ok := c.Type().(*types.Basic); ok && basic.Info()&types.IsNumeric != 0 {
			found[name], _ = constant.Float64Val(constant.ToFloat(c.Val()))
		}
	}
	return found
}

func TestEveryConstantHasAFact(t *testing.T) {
	constants := readSource(t).constants()
	if len(constants) < 40 {
		t.Fatalf("only %d constants found: the test looks in the wrong place", len(constants))
	}
	rows := map[string]bool{}
	for _, f := range Facts() {
		if rows[f.Name] {
			t.Errorf("%s has two rows", f.Name)
		}
		rows[f.Name] = true
		value, ok := constants[f.Name]
		switch {
		case !ok:
			t.Errorf("%s is in the table of facts and not among the constants", f.Name)
		case value != f.Value:
			t.Errorf("%s is %v and the table says %v", f.Name, value, f.Value)
		}
		if f.Unit == "" || f.Meaning == "" || strings.TrimSpace(f.Source) == "" {
			t.Errorf("%s lacks unit, meaning or source: %+v", f.Name, f)
		}
		if f.Trust < Read || f.Trust > Judgement {
			t.Errorf("%s: trust %d is not one of the six", f.Name, f.Trust)
		}
	}
	for name := range constants {
		if !rows[name] {
			t.Errorf("%s has no row in the table of facts", name)
		}
	}
}

func TestEveryFactHasAUse(t *testing.T) {
	for _, u := range Uses() {
		if strings.TrimSpace(u.Advice) == "" || len(u.Facts) == 0 {
			t.Errorf("advice %q rests on %d constants: %+v", u.Advice, len(u.Facts), u.Facts)
		}
	}
}

func TestFactsSayHowFarToTrustThem(t *testing.T) {
	for _, f := range Facts() {
		switch f.Trust {
		case Read, AsQuoted:
			// If a number was read in a publication, its source must contain a year or a web address.
			if !strings.Contains(f.Source, "http") && !strings.ContainsFunc(f.Source,
				func(r rune) bool { return r >= '0' && r <= '9' }) {
				t.Errorf("%s is %s from a source with neither year nor address: %q", f.Name, f.Trust, f.Source)
			}
		case CommonPractice:
			if !strings.Contains(f.Source, "no source") {
				t.Errorf("%s is common practice and does not say so: %q", f.Name, f.Source)
			}
		case Judgement:
			if !strings.Contains(f.Source, "chosen here") && !strings.Contains(f.Source, "calibrated") &&
				f.Source != slip {
				t.Errorf("%s is a judgement and does not say whose: %q", f.Name, f.Source)
			}
		}
	}
}

// plain lists the numbers that may stand in a function without a constant: 0, 1, 2, and powers of ten for units.
var plain = []float64{0, 1, 2, 10, 100, 1e4}

// Every number in a function is a named constant, so that it has a fact with a source. day.go is left out, because the
// numbers of the calendar are definitions.
func TestNoNumberHidesInTheCode(t *testing.T) {
	s := readSource(t)
	looked := 0
	for _, f := range s.files {
		if s.fset.Position(f.Pos()).Filename == "day.go" {
			continue
		}
		for _, decl := range f.Decls {
			fn, ok := decl.(*ast.FuncDecl)
			if !ok {
				continue
			}
			ast.Inspect(fn, func(n ast.Node) bool {
				lit, ok := n.(*ast.BasicLit)
				if !ok || lit.Kind != token.INT && lit.Kind != token.FLOAT {
					return true
				}
				looked++
				value, err := strconv.ParseFloat(strings.ReplaceAll(lit.Value, "_", ""), 64)
				allowed := slices.Clone(plain)
				switch fn.Name.Name {
				case "on":
					allowed = append(allowed, 12) // months in a year
				case "reach", "handDays":
					allowed = append(allowed, 3) // lengths of arrays
				case "Validate":
					allowed = append(allowed, 31) // days in December
				}
				if err != nil || !slices.Contains(allowed, value) {
					t.Errorf("%s: %s in %s has no name and no source", s.fset.Position(lit.Pos()), lit.Value,
						fn.Name.Name)
				}
				return true
			})
		}
	}
	if looked < 20 {
		t.Fatalf("only %d numbers looked at", looked)
	}
}
