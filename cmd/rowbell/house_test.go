package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The tests in this file keep the house in order: what may stand where, and
// who may know whom. They look at the files as they are, so that a rule that
// is broken is told with its place.

const houseRoot = "../.."

// houseFiles lists the project's files, with slashes, from its root: what git
// tracks or would track; where there is no git, everything.
func houseFiles(t *testing.T) []string {
	t.Helper()
	var files []string
	git := exec.Command("git", "-C", houseRoot, "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	if out, err := git.Output(); err == nil {
		for f := range strings.SplitSeq(strings.TrimRight(string(out), "\x00"), "\x00") {
			if _, err := os.Stat(filepath.Join(houseRoot, f)); err == nil { // not one that is being deleted
				files = append(files, f)
			}
		}
	} else {
		err := fs.WalkDir(os.DirFS(houseRoot), ".", func(p string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && !strings.HasPrefix(p, ".git/") {
				files = append(files, p)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(files) < 50 {
		t.Fatalf("only %d files found: the tests look in the wrong place", len(files))
	}
	return files
}

func houseRead(t *testing.T, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(houseRoot, file))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Nothing else stands at the top, ever: what is new finds its room inside.
func TestHouseTopLevel(t *testing.T) {
	allowed := []string{
		"cmd", "menu", "engine", "store", "gateway", "testdata", "README.md", "DEVELOPERS.md", "LICENSE",
		"go.mod", "go.sum", "Dockerfile", ".dockerignore", ".ci", ".gitignore", ".golangci.yml",
	}
	seen := map[string]bool{}
	for _, f := range houseFiles(t) {
		top, _, _ := strings.Cut(f, "/")
		if !slices.Contains(allowed, top) && !seen[top] {
			t.Errorf("%s does not belong at the top level", top)
		}
		seen[top] = true
	}
}

// rooms says what each package may import, beside the standard library and,
// for a room, its own packages. Whoever is not listed may import nothing.
var rooms = map[string][]string{
	"rowbell/engine":          {},
	"rowbell/engine/simulate": {"rowbell/engine"},
	"rowbell/engine/picture":  {"rowbell/engine"},
	"rowbell/menu/text":       {"github.com/pelletier/go-toml/v2", "golang.org/x/text"},
	"rowbell/menu":            {"rowbell/engine", "rowbell/menu/text"},
	"rowbell/store":           {"rowbell/engine", "github.com/mattn/go-sqlite3", "github.com/pressly/goose/v3"},
	"rowbell/gateway/clock":   {},
	"rowbell/gateway/problem": {},
	"rowbell/gateway/profile": {"rowbell/gateway/limit", "rowbell/menu/text", "github.com/antchfx/xmlquery", "github.com/antchfx/xpath", "golang.org/x/text"},
	"rowbell/gateway/limit":   {},
	"rowbell/gateway/meter":   {"rowbell/store", "rowbell/gateway/clock", "github.com/prometheus/client_golang"},
	"rowbell/gateway/bell":    {"rowbell/engine", "rowbell/menu", "rowbell/store", "rowbell/gateway/clock", "rowbell/gateway/meter", "github.com/rs/zerolog"},
	"rowbell/gateway/push":    {"rowbell/menu/text", "rowbell/store", "rowbell/gateway/limit", "rowbell/gateway/meter", "rowbell/gateway/profile", "rowbell/gateway/clock", "github.com/rs/zerolog", "golang.org/x/time"},
	"rowbell/gateway/handset": {"rowbell/engine", "rowbell/engine/picture", "rowbell/engine/simulate", "rowbell/gateway/clock", "rowbell/gateway/profile"},
	"rowbell/gateway": {
		"rowbell/engine", "rowbell/menu", "rowbell/store", "rowbell/gateway/clock", "rowbell/gateway/limit", "rowbell/gateway/meter", "rowbell/gateway/problem", "rowbell/gateway/profile",
		"github.com/go-chi/chi/v5", "github.com/rs/zerolog",
	},
	"rowbell/cmd/rowbell/config": {
		"rowbell/engine", "rowbell/menu", "rowbell/menu/text", "rowbell/store", "rowbell/gateway", "rowbell/gateway/limit", "rowbell/gateway/profile", "rowbell/gateway/push",
		"github.com/pelletier/go-toml/v2", "github.com/rs/zerolog",
	},
	"rowbell/cmd/rowbell": {
		"rowbell", "github.com/alecthomas/kong", "github.com/dop251/goja", "github.com/go-chi/chi/v5", "github.com/pelletier/go-toml/v2", "github.com/rs/zerolog",
	},
}

type housePackage struct {
	ImportPath string
	Imports    []string
}

func housePackages(t *testing.T) []housePackage {
	t.Helper()
	list := exec.Command("go", "list", "-json=ImportPath,Imports", "./...")
	list.Dir = houseRoot
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var packages []housePackage
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p housePackage
		switch err := d.Decode(&p); {
		case errors.Is(err, io.EOF):
			return packages
		case err != nil:
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
}

func TestHouseImports(t *testing.T) {
	found := map[string]bool{}
	for _, p := range housePackages(t) {
		found[p.ImportPath] = true
		may, ok := rooms[p.ImportPath]
		if !ok {
			t.Errorf("%s has no line in rooms: decide what it may import", p.ImportPath)
			continue
		}
		for _, imp := range p.Imports {
			if standard(imp) || within(imp, may) {
				continue
			}
			t.Errorf("%s imports %s", p.ImportPath, imp)
		}
		if p.ImportPath == "rowbell/menu" || p.ImportPath == "rowbell/engine" {
			for _, imp := range p.Imports {
				if imp == "net/http" || imp == "database/sql" || imp == "os" {
					t.Errorf("%s imports %s", p.ImportPath, imp)
				}
			}
		}
	}
	for room := range rooms {
		if !found[room] {
			t.Errorf("%s has a line in rooms and is not there", room)
		}
	}
}

// standard packages have no dot in the first part of their path; ours begin
// with rowbell; "C" is cgo.
func standard(imp string) bool {
	first, _, _ := strings.Cut(imp, "/")
	return first != "rowbell" && !strings.Contains(first, ".")
}

// within reports whether imp is one of the packages, or, for one that is not
// ours, lies below one. cmd may import all of ours.
func within(imp string, packages []string) bool {
	return slices.ContainsFunc(packages, func(p string) bool {
		return imp == p || strings.HasPrefix(imp, p+"/") && (p == "rowbell" || !strings.HasPrefix(p, "rowbell/"))
	})
}

// Outside cmd time comes from gateway/clock, and settings come in as values.
func TestHouseClockAndEnvironment(t *testing.T) {
	forbidden := map[string][]string{
		"time": {"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer"},
		"os":   {"Getenv", "LookupEnv", "Environ", "Args", "Stdin", "Stdout", "Stderr"},
	}
	whole := []string{"flag", "log", "log/slog", "github.com/rs/zerolog/log"}
	checked := 0
	for _, f := range houseFiles(t) {
		if path.Ext(f) != ".go" || strings.HasSuffix(f, "_test.go") || strings.HasPrefix(f, "cmd/") {
			continue
		}
		checked++
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, f, houseRead(t, f), parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		names := map[string][]string{} // what a forbidden package is called here
		for _, imp := range file.Imports {
			p := strings.Trim(imp.Path.Value, `"`)
			if slices.Contains(whole, p) {
				t.Errorf("%s imports %s", set.Position(imp.Pos()), p)
			}
			if f, ok := forbidden[p]; ok {
				name := path.Base(p)
				if imp.Name != nil {
					name = imp.Name.Name
				}
				names[name] = f
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if x, ok := sel.X.(*ast.Ident); ok && slices.Contains(names[x.Name], sel.Sel.Name) {
				t.Errorf("%s: %s.%s outside cmd", set.Position(sel.Pos()), x.Name, sel.Sel.Name)
			}
			return true
		})
	}
	if checked < 20 {
		t.Errorf("only %d files checked", checked)
	}
}

// phoneLike is a number written internationally, or as the range for fiction
// would be dialled at home.
var phoneLike = regexp.MustCompile(`\+[0-9](?:[ -]?[0-9]){7,14}|\b(?:0|44)7[0-9]{9}\b`)

// invented is the range that is kept for fiction.
var invented = regexp.MustCompile(`^(?:\+?44|0)7700900[0-9]{3}$`)

// No number in this project may reach a person.
func TestHouseNumbersAreInvented(t *testing.T) {
	seen := 0
	for _, f := range houseFiles(t) {
		if path.Base(f) == "go.sum" { // hashes
			continue
		}
		b := houseRead(t, f)
		if bytes.IndexByte(b, 0) >= 0 { // not a text
			continue
		}
		for _, at := range phoneLike.FindAllIndex(b, -1) {
			number := string(b[at[0]:at[1]])
			if invented.MatchString(strings.NewReplacer(" ", "", "-", "").Replace(number)) {
				seen++
				continue
			}
			t.Errorf("%s:%d: %s may be somebody's", f, 1+bytes.Count(b[:at[0]], []byte("\n")), number)
		}
	}
	if seen == 0 {
		t.Error("no number found at all: the pattern is wrong")
	}
}

// Every path that the guide for developers names is there.
func TestHouseGuideNamesWhatIsThere(t *testing.T) {
	const guide = "DEVELOPERS.md"
	files := houseFiles(t)
	tops, bases := map[string]bool{}, map[string]bool{}
	for _, f := range files {
		top, _, _ := strings.Cut(f, "/")
		tops[top], bases[path.Base(f)] = true, true
	}
	named := 0
	span := regexp.MustCompile("`([A-Za-z0-9_.*-]+(?:/[A-Za-z0-9_.*-]+)*)/?`")
	for _, m := range span.FindAllStringSubmatch(string(houseRead(t, guide)), -1) {
		name := m[1]
		top, _, deep := strings.Cut(name, "/")
		switch {
		case deep && tops[top]:
			named++
			if found, err := filepath.Glob(filepath.Join(houseRoot, name)); err != nil || len(found) == 0 {
				t.Errorf("%s names %s, which is not there", guide, name)
			}
		case !deep && path.Ext(name) == ".go" && !strings.Contains(name, "*"):
			named++
			if !bases[name] {
				t.Errorf("%s names %s, which is nowhere", guide, name)
			}
		}
	}
	if named == 0 {
		t.Errorf("%s names no file: the pattern is wrong", guide)
	}
}

// A file is about one subject: past 400 lines it is worth a look, past 500 it
// must be split.
func TestHouseFilesAreShort(t *testing.T) {
	for _, f := range houseFiles(t) {
		if path.Ext(f) != ".go" {
			continue
		}
		switch n := bytes.Count(houseRead(t, f), []byte("\n")); {
		case n > 500:
			t.Errorf("%s has %d lines: split it", f, n)
		case n > 400:
			t.Logf("%s has %d lines", f, n)
		}
	}
}
