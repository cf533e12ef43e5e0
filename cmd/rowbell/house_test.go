package main

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
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

// The tests in this file check rules for the source files of the whole project. An error names the file and the line.

const houseRoot = "../.."

// houseFiles lists the files of the project by their paths below the top folder. It leaves out files that git ignores;
// without git, it lists all files.
func houseFiles(t *testing.T) []string {
	t.Helper()
	var files []string
	git := exec.Command("git", "-C", houseRoot, "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	if out, err := git.Output(); err == nil {
		for f := range strings.SplitSeq(strings.TrimRight(string(out), "\x00"), "\x00") {
			// Git also lists files that were deleted from the disk.
			if _, err := os.Stat(filepath.Join(houseRoot, f)); err == nil {
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
		must(t, err)
	}
	if len(files) < 50 {
		t.Fatalf("only %d files found: the root is wrong", len(files))
	}
	return files
}

func houseParse(t *testing.T, file string, mode parser.Mode) (*ast.File, *token.FileSet) {
	t.Helper()
	set := token.NewFileSet()
	parsed, err := parser.ParseFile(set, file, houseRead(t, file), mode)
	must(t, err)
	return parsed, set
}

func houseRead(t *testing.T, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(houseRoot, file))
	must(t, err)
	return b
}

// The top folder contains only these names. A new file belongs into one of the folders.
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

// rooms has a line for each package of the project. After the colon follow the packages that the package may import in
// addition to the standard library: our packages by their path, other packages by their module. A line that begins with
// a tab continues the line above.
const rooms = `
engine:
engine/circle: engine
engine/picture: engine
engine/rapidseed: pgregory.net/rapid
engine/report: engine
engine/simulate: engine
menu: engine engine/circle menu/answer menu/text
menu/answer: engine menu/text github.com/hbollon/go-edlib
menu/booklet: engine engine/circle menu menu/notebook menu/text
menu/notebook: engine engine/circle
menu/proof: engine engine/circle menu menu/notebook menu/text
menu/text: github.com/pelletier/go-toml/v2 golang.org/x/text
store: engine engine/circle engine/report store/agefile store/growercsv store/recordfile golang.org/x/text
	github.com/jackc/pgx/v5 github.com/mattn/go-sqlite3 github.com/pressly/goose/v3 golang.org/x/sys
store/weathercsv: engine
store/growercsv: engine store/weathercsv
store/agefile: filippo.io/age
store/manygrowers: engine store github.com/mattn/go-sqlite3
store/recordfile:
store/testrun: github.com/jackc/pgx/v5
gateway: engine menu store
	gateway/clock gateway/limit gateway/meter gateway/problem gateway/profile
	github.com/go-chi/chi/v5 github.com/rs/zerolog golang.org/x/sync/singleflight
gateway/bell: engine engine/circle menu store gateway/clock gateway/meter github.com/rs/zerolog
gateway/bench: gateway store/manygrowers github.com/go-chi/chi/v5
gateway/browser: github.com/chromedp/cdproto github.com/chromedp/chromedp
gateway/clock:
gateway/handset: engine engine/circle engine/picture engine/simulate gateway/clock gateway/profile
gateway/desk: engine engine/circle engine/picture engine/report gateway menu menu/answer menu/text
	store store/growercsv store/weathercsv gateway/bell gateway/clock
	github.com/alexedwards/argon2id github.com/alexedwards/scs/v2 github.com/rs/zerolog github.com/yuin/goldmark
	gateway/desk/say
gateway/desk/say: engine engine/circle
gateway/fault:
gateway/letter: store gateway/clock github.com/rs/zerolog
gateway/limit: gateway/fault
gateway/meter: store gateway/clock github.com/VictoriaMetrics/metrics
gateway/problem:
gateway/profile: menu/text gateway/fault gateway/limit
	github.com/antchfx/xmlquery github.com/antchfx/xpath golang.org/x/text
gateway/push: menu/text store gateway/clock gateway/fault gateway/limit gateway/meter gateway/profile
	github.com/rs/zerolog golang.org/x/time
cmd/rowbell: *
	github.com/alecthomas/kong github.com/mattn/go-isatty github.com/rs/zerolog github.com/schollz/progressbar/v3
cmd/rowbell/plan: engine store/weathercsv
cmd/rowbell/config: engine menu menu/answer menu/text store store/agefile store/growercsv
	gateway gateway/fault gateway/limit gateway/profile gateway/push
	github.com/hbollon/go-edlib github.com/pelletier/go-toml/v2 github.com/rs/zerolog
cmd/rowbell/config/configtest: cmd/rowbell/config
cmd/rowbell/doctor: cmd/rowbell/config cmd/rowbell/service menu menu/proof store gateway gateway/clock gateway/fault
	gateway/limit gateway/meter gateway/profile gateway/push github.com/rs/zerolog
cmd/rowbell/manual:
cmd/rowbell/practice: cmd/rowbell/config cmd/rowbell/service engine engine/circle engine/simulate store store/weathercsv
	gateway gateway/clock gateway/handset gateway/profile github.com/rs/zerolog
cmd/rowbell/roster: cmd/rowbell/plan engine engine/circle engine/picture menu/answer menu/text store/weathercsv
	gateway/desk/say
cmd/rowbell/seeded:
cmd/rowbell/service: cmd/rowbell/config cmd/rowbell/manual engine menu menu/proof menu/text store store/agefile
	gateway gateway/bell gateway/clock gateway/desk gateway/fault gateway/letter gateway/limit
	gateway/meter gateway/problem gateway/profile
	gateway/push github.com/rs/zerolog
cmd/rowbell-load: cmd/rowbell-load/calls cmd/rowbell-load/season cmd/rowbell-load/stack
	github.com/alecthomas/kong github.com/mattn/go-isatty github.com/schollz/progressbar/v3
cmd/rowbell-load/calls: engine store cmd/rowbell-load/stack github.com/HdrHistogram/hdrhistogram-go
cmd/rowbell-load/season: engine menu menu/text store cmd/rowbell-load/stack github.com/mattn/go-sqlite3
cmd/rowbell-load/stack: store github.com/jackc/pgx/v5
cmd/rowbell-load/stack/stacktest: cmd/rowbell-load/stack store/testrun
`

// roomRules returns, for each package, the packages and modules that it may import. An asterisk (*) stands for all
// packages of the project.
func roomRules() map[string][]string {
	rules := map[string][]string{}
	for line := range strings.SplitSeq(strings.ReplaceAll(strings.TrimSpace(rooms), "\n\t", " "), "\n") {
		name, may, _ := strings.Cut(line, ":")
		list := []string{}
		for _, p := range strings.Fields(may) {
			if first, _, _ := strings.Cut(p, "/"); p != "*" && !strings.Contains(first, ".") {
				p = "rowbell/" + p
			}
			list = append(list, p)
		}
		rules["rowbell/"+name] = list
	}
	return rules
}

// housePackages returns the imports of each package, without the imports of its tests.
func housePackages(t *testing.T) map[string][]string {
	t.Helper()
	list := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "./...")
	list.Dir = houseRoot
	out, err := list.Output()
	must(t, err)
	packages := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		packages[words[0]] = words[1:]
	}
	return packages
}

func TestHouseImports(t *testing.T) {
	rules, packages := roomRules(), housePackages(t)
	for pkg, imports := range packages {
		may, ok := rules[pkg]
		if !ok {
			t.Errorf("%s has no line in rooms: decide what it may import", pkg)
			continue
		}
		for _, imp := range imports {
			if !standard(imp) && !within(imp, may) ||
				pure(pkg) && slices.Contains([]string{"net/http", "database/sql", "os"}, imp) {
				t.Errorf("%s imports %s", pkg, imp)
			}
		}
	}
	for room := range rules {
		if packages[room] == nil {
			t.Errorf("%s has a line in rooms and is not there", room)
		}
	}
}

// testOnly are the packages that only tests and these packages themselves may import.
var testOnly = []string{rapidPath, seedPath, "rowbell/cmd/rowbell/config/configtest", "rowbell/gateway/bench",
	"rowbell/cmd/rowbell-load/stack/stacktest", "rowbell/gateway/browser", "rowbell/store/manygrowers",
	"rowbell/store/testrun"}

func TestHouseTestPackages(t *testing.T) {
	imported := map[string]bool{}
	for _, f := range houseFiles(t) {
		if path.Ext(f) != ".go" {
			continue
		}
		free := strings.HasSuffix(f, "_test.go") || slices.Contains(testOnly, "rowbell/"+path.Dir(f))
		file, _ := houseParse(t, f, parser.ImportsOnly)
		for _, imp := range file.Imports {
			p := strings.Trim(imp.Path.Value, `"`)
			if imported[p] = true; !free && slices.Contains(testOnly, p) {
				t.Errorf("%s imports %s, which is for tests", f, p)
			}
		}
	}
	for _, p := range testOnly {
		if !imported[p] {
			t.Errorf("nothing imports %s", p)
		}
	}
}

// pure reports whether a package must not use the network, a database or files.
func pure(pkg string) bool {
	return pkg == "rowbell/menu" || strings.HasPrefix(pkg, "rowbell/menu/") && pkg != "rowbell/menu/text" ||
		pkg == "rowbell/engine" || strings.HasPrefix(pkg, "rowbell/engine/") || pkg == "rowbell/store/weathercsv" ||
		pkg == "rowbell/store/growercsv"
}

// standard reports whether an import path is in the standard library. The path "C" of cgo counts as standard.
func standard(imp string) bool {
	first, _, _ := strings.Cut(imp, "/")
	return first != "rowbell" && !strings.Contains(first, ".")
}

// within reports whether the list packages allows the import path imp: by the path itself, by its module, or by * for a
// package of the project.
func within(imp string, packages []string) bool {
	ours := strings.HasPrefix(imp, "rowbell/")
	return slices.ContainsFunc(packages, func(p string) bool {
		return imp == p || p == "*" && ours || !ours && strings.HasPrefix(imp, p+"/")
	})
}

// Every package comment has at least two sentences: what the package does, and what the package must not do.
func TestHousePackagesHaveComments(t *testing.T) {
	words := map[string]int{} // number of words in the package comment, by folder
	for _, f := range houseFiles(t) {
		if path.Ext(f) != ".go" || strings.HasSuffix(f, "_test.go") || strings.Contains(f, "testdata/") {
			continue
		}
		file, _ := houseParse(t, f, parser.PackageClauseOnly|parser.ParseComments)
		words[path.Dir(f)] += len(strings.Fields(file.Doc.Text()))
	}
	const least = 15 // the number of words in two short sentences
	for dir, n := range words {
		if n < least {
			t.Errorf("the package comment of %s has %d words, and must say what lives there and what may not", dir, n)
		}
	}
	if len(words) < 15 {
		t.Errorf("only %d packages found", len(words))
	}
}

// Only cmd/rowbell and cmd/rowbell/service read the system's clock, the environment or the standard streams; and
// rowbell-load, which measures time.
func TestHouseClockAndEnvironment(t *testing.T) {
	forbidden := map[string][]string{
		"time": {"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer"},
		"os":   {"Getenv", "LookupEnv", "Environ", "Args", "Stdin", "Stdout", "Stderr"},
	}
	whole := []string{"flag", "log", "log/slog", "github.com/rs/zerolog/log"}
	checked := 0
	for _, f := range houseFiles(t) {
		// The last four are in testOnly, so no other package gets the real clock or the environment through them.
		switch {
		case path.Ext(f) != ".go", strings.HasSuffix(f, "_test.go"), path.Dir(f) == "cmd/rowbell",
			path.Dir(f) == "cmd/rowbell/service", strings.HasPrefix(f, "cmd/rowbell-load/"),
			path.Dir(f) == "engine/rapidseed",
			path.Dir(f) == "store/testrun", path.Dir(f) == "gateway/bench", path.Dir(f) == "gateway/browser":
			continue
		}
		checked++
		file, set := houseParse(t, f, parser.SkipObjectResolution)
		names := map[string][]string{} // by the local name of a package: the names in the package that are forbidden
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
				t.Errorf("%s: %s.%s outside of cmd", set.Position(sel.Pos()), x.Name, sel.Sel.Name)
			}
			return true
		})
	}
	if checked < 20 {
		t.Errorf("only %d files checked", checked)
	}
}

// phoneLike matches an international phone number, or a number reserved for fiction without its country code.
var phoneLike = regexp.MustCompile(`\+[0-9](?:[ -]?[0-9]){7,14}|\b(?:0|44)7[0-9]{9}\b`)

// invented matches the phone numbers that are reserved for fiction (Ofcom, telephone numbers for drama use).
var invented = regexp.MustCompile(`^(?:\+?44|0)7700900[0-9]{3}$`)

// No file contains a phone number that may belong to a real person.
func TestHouseNumbersAreInvented(t *testing.T) {
	seen := 0
	for _, f := range houseFiles(t) {
		b := houseRead(t, f)
		if path.Base(f) == "go.sum" || bytes.IndexByte(b, 0) >= 0 { // skip go.sum, which has hashes, and binary files
			continue
		}
		for _, at := range phoneLike.FindAllIndex(b, -1) {
			number := string(b[at[0]:at[1]])
			if invented.MatchString(strings.NewReplacer(" ", "", "-", "").Replace(number)) {
				seen++
				continue
			}
			t.Errorf("%s:%d: %s may be a person's", f, 1+bytes.Count(b[:at[0]], []byte("\n")), number)
		}
	}
	if seen == 0 {
		t.Error("no number found: the pattern is wrong")
	}
}

// Every path in DEVELOPERS.md exists, below the top folder or, for a testdata folder, below a package. Every Go file
// that DEVELOPERS.md names without a folder exists in some folder.
func TestHouseGuidePathsExist(t *testing.T) {
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
			found, err := filepath.Glob(filepath.Join(houseRoot, name))
			inPackage := func(f string) bool { return strings.Contains(f, "/"+name+"/") }
			if err != nil || len(found) == 0 && !slices.ContainsFunc(files, inPackage) {
				t.Errorf("%s names %s, which does not exist", guide, name)
			}
		case !deep && path.Ext(name) == ".go" && !strings.Contains(name, "*"):
			named++
			if !bases[name] {
				t.Errorf("%s names %s, which does not exist", guide, name)
			}
		}
	}
	if named == 0 {
		t.Errorf("%s names no file: the pattern is wrong", guide)
	}
}

// A Go file has at most 500 lines, because a longer file has more than one subject.
func TestHouseFilesAreShort(t *testing.T) {
	for _, f := range houseFiles(t) {
		if n := bytes.Count(houseRead(t, f), []byte("\n")); path.Ext(f) == ".go" && n > 500 {
			t.Errorf("%s has %d lines: split it by subject", f, n)
		}
	}
}
