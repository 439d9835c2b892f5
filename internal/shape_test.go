// Package internal_test holds the order of the packages: which there are, in
// which order they are read, which of them are pure, and who may import whom.
// It reads the source and fails on whatever differs.
package internal_test

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// kind tells the pure packages from those that touch the world.
type kind uint8

const (
	pure   kind = iota // no disk, network, clock, environment, log, unseeded randomness
	shell              // may do all of that
	helper             // serves tests: may do all of that, and no package imports it
)

// row is one package of internal.
type row struct {
	name string
	kind kind
	may  string // the packages above it that it may import; proto is the schema
}

// table is the packages that exist, in the order in which data flows and the
// source is read. A new package or edge is a change of this table, with its
// reason in the same commit.
var table = []row{
	{"geo", pure, ""},
	{"atmos", pure, ""},
	{"sun", pure, ""},
	{"quantity", pure, ""},
	{"grib", pure, ""},
	{"ground", pure, "geo"},
	{"balloon", pure, "atmos"},
	{"rules", pure, "balloon"},
	{"cube", pure, "geo"},
	{"wind", pure, "geo atmos grib cube"},
	{"flight", pure, "geo atmos ground balloon wind"},
	{"landing", pure, "geo"},
	{"hazard", pure, "geo atmos ground flight landing"},
	{"launch", pure, "ground landing hazard"}, // ground, as limits are by its classes
	{"ensemble", pure, "geo atmos ground balloon wind flight landing hazard"},
	{"synth", pure, "geo atmos grib"},
	{"plan", shell, "geo atmos quantity ground balloon rules wind flight landing hazard launch ensemble proto"},
	{"archive", shell, "geo grib ground cube wind"},
	{"fetch", shell, "geo grib ground cube wind archive"}, // brings what archive keeps: apart from it, as the network is another world than files
	{"realwind", helper, "geo wind archive"},              // the one real forecast that tests of several packages fly on
	{"logbook", shell, "geo"},                             // of landings it keeps no more than a place
	{"page", shell, ""},                                   // no part of it knows a package; it names its policy by a hash
	{"report", shell, "geo atmos quantity grib ground balloon rules wind flight landing hazard launch ensemble archive page"},
	{"mission", shell, "geo sun atmos quantity grib ground balloon rules wind flight landing hazard launch ensemble plan archive report"},
	{"nightly", shell, "geo quantity launch archive logbook page report mission"}, // page and quantity, as its own pages are drawn and spoken like the report's
	{"rpc", shell, "geo atmos quantity ground balloon rules wind flight landing hazard launch ensemble plan report mission proto"},
}

// concurrent is the one pure package that may start goroutines and be stopped.
const concurrent = "ensemble"

const (
	module = "example.org/thistledown/"
	inside = module + "internal/"
	schema = module + "proto/thistledown/v1"
)

// pkg is the source of one package, without its generated files.
type pkg struct {
	name  string // its folder under internal
	set   *token.FileSet
	files []*ast.File
	tests []*ast.File
}

// at is the place of a node, as "geo/grid.go:12".
func (p *pkg) at(n ast.Node) string {
	pos := p.set.Position(n.Pos())
	return pos.Filename + ":" + strconv.Itoa(pos.Line)
}

// add parses one file into the package of its folder.
func add(pkgs map[string]*pkg, name string, src []byte) error {
	folder := path.Dir(name)
	p := pkgs[folder]
	if p == nil {
		p = &pkg{name: folder, set: token.NewFileSet()}
		pkgs[folder] = p
	}
	f, err := parser.ParseFile(p.set, name, src, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	switch {
	case ast.IsGenerated(f):
	case strings.HasSuffix(name, "_test.go"):
		p.tests = append(p.tests, f)
	default:
		p.files = append(p.files, f)
	}
	return nil
}

// load parses every package below this folder, this one left out.
func load(t *testing.T) map[string]*pkg {
	t.Helper()
	pkgs := map[string]*pkg{}
	err := fs.WalkDir(os.DirFS("."), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && d.Name() == "testdata":
			return fs.SkipDir
		case d.IsDir() || path.Ext(name) != ".go" || path.Dir(name) == ".":
			return nil
		}
		src, err := os.ReadFile(filepath.FromSlash(name))
		if err != nil {
			return err
		}
		return add(pkgs, name, src)
	})
	require.NoError(t, err)
	return pkgs
}

// imported is the path of an import.
func imported(spec *ast.ImportSpec) string {
	p, err := strconv.Unquote(spec.Path.Value)
	if err != nil {
		panic("shape: the parser let an import through that is no string: " + spec.Path.Value)
	}
	return p
}

// ours is the name in the table of an imported package of this module, if it is one.
func ours(path string) (name string, ok bool) {
	switch {
	case path == schema:
		return "proto", true
	case strings.HasPrefix(path, inside):
		return strings.TrimPrefix(path, inside), true
	}
	return path, strings.HasPrefix(path, module)
}

// faults is everything in which the packages differ from the table or break a rule.
func faults(rows []row, pkgs map[string]*pkg) []string {
	all := rowFaults(rows, pkgs)
	for _, r := range rows {
		p := pkgs[r.name]
		if p == nil {
			continue
		}
		all = append(all, edgeFaults(r, p)...)
		all = append(all, initFaults(p)...)
		all = append(all, globalFaults(p)...)
		all = append(all, docFaults(p)...)
		if r.kind == pure {
			all = append(all, pureFaults(p)...)
		}
	}
	return append(all, cycleFaults(rows, pkgs)...)
}

// rowFaults compares the table with the folders, and each row with those above it.
func rowFaults(rows []row, pkgs map[string]*pkg) []string {
	var out []string
	above, kinds := []string{}, map[string]kind{}
	for _, r := range rows {
		if p := pkgs[r.name]; p == nil || len(p.files) == 0 {
			out = append(out, fmt.Sprintf("the table has %s, which does not exist: take its row out", r.name))
		}
		if slices.Contains(above, r.name) {
			out = append(out, fmt.Sprintf("the table has %s twice", r.name))
		}
		for _, dep := range strings.Fields(r.may) {
			switch {
			case dep == "proto":
			case !slices.Contains(above, dep):
				out = append(out, fmt.Sprintf("the table lets %s import %s, which is not above it", r.name, dep))
			case kinds[dep] == helper:
				out = append(out, fmt.Sprintf("the table lets %s import %s, which only tests may", r.name, dep))
			}
		}
		above = append(above, r.name)
		kinds[r.name] = r.kind
	}
	for name := range pkgs {
		if !slices.Contains(above, name) {
			out = append(out, fmt.Sprintf("internal/%s is not in the table", name))
		}
	}
	return out
}

// edgeFaults is the imports of this module that the row does not allow.
func edgeFaults(r row, p *pkg) []string {
	var out []string
	for _, f := range p.files {
		for _, spec := range f.Imports {
			dep, ok := ours(imported(spec))
			if ok && !slices.Contains(strings.Fields(r.may), dep) {
				out = append(out, fmt.Sprintf("%s: %s may not import %s", p.at(spec), r.name, dep))
			}
		}
	}
	return out
}

// cycleFaults is each ring of imports that is closed by way of a test. Tests
// may import more than the table allows, but nothing that is built on what
// they test; only what a helper builds on is left out of sight.
func cycleFaults(rows []row, pkgs map[string]*pkg) []string {
	helps := func(name string) bool {
		return slices.ContainsFunc(rows, func(r row) bool { return r.name == name && r.kind == helper })
	}
	deps := map[string][]string{}
	for name, p := range pkgs {
		if helps(name) {
			continue
		}
		for _, f := range slices.Concat(p.files, p.tests) {
			for _, spec := range f.Imports {
				if dep, ok := ours(imported(spec)); ok && dep != name && !slices.Contains(deps[name], dep) {
					deps[name] = append(deps[name], dep)
				}
			}
		}
		slices.Sort(deps[name])
	}
	var out, way []string
	done := map[string]bool{}
	var visit func(name string)
	visit = func(name string) {
		if i := slices.Index(way, name); i >= 0 {
			out = append(out, "imports form a ring, tests included: "+strings.Join(append(slices.Clone(way[i:]), name), " → "))
			return
		}
		if done[name] {
			return
		}
		way = append(way, name)
		for _, dep := range deps[name] {
			visit(dep)
		}
		way = way[:len(way)-1]
		done[name] = true
	}
	names := make([]string, 0, len(pkgs))
	for name := range pkgs {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		visit(name)
	}
	return out
}

func TestShape(t *testing.T) {
	for _, fault := range faults(table, load(t)) {
		t.Error(fault)
	}
}

// reference names the folder beside the repository that only .ci/run may know;
// it is put together here so that this file does not name it.
var reference = []byte("../" + "shared")

// namesReference tells whether a file of the repository names that folder
// without leave.
func namesReference(name string, content []byte) bool {
	return name != ".ci/run" && bytes.Contains(content, reference)
}

func TestReferenceIsNamedOnce(t *testing.T) {
	root := os.DirFS("..")
	read := 0
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case name == ".git" || name == ".bin" || name == "demo-out" || d.Name() == "node_modules":
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case !d.Type().IsRegular():
			return nil
		}
		content, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		read++
		if namesReference(name, content) {
			t.Errorf("%s names %s: a test finds it by the variable THISTLEDOWN_REFERENCE", name, reference)
		}
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, read, len(table), "files read")
}
