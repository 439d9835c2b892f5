package internal_test

import (
	"fmt"
	"go/ast"
	"go/token"
	"path"
	"regexp"
	"slices"
	"strings"
)

// pureImports is what a pure package may import beside packages of this
// module, exactly or, with a slash at the end, everything below. What is
// missing here and is pure may be added.
var pureImports = []string{
	"archive/zip", "bufio", "bytes", "cmp", "compress/", "container/", "embed", "encoding/", "errors", "fmt", "hash/", "image", "image/png",
	"io", "iter", "maps", "math", "math/", "regexp", "simd/archsimd", "slices", "sort", "strconv", "strings", "time", "unicode",
	"unicode/",
	"github.com/golang/geo/", "github.com/nilsmagnus/grib/griblib", "github.com/paulmach/orb",
	"github.com/paulmach/orb/", "github.com/peterstace/simplefeatures/geom", "gonum.org/v1/gonum/",
}

// concurrentImports is what the concurrent package may import as well.
var concurrentImports = []string{"context", "runtime", "sync", "sync/"}

// impure is what a pure package may not use of the packages that it may import.
var impure = map[string][]string{
	"time": {
		"After", "AfterFunc", "LoadLocation", "Local", "NewTicker", "NewTimer", "Now", "Since", "Sleep", "Tick", "Until",
	},
	"archive/zip": {"OpenReader"},
	"fmt":         {"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"},
}

// seeded is all that a pure package may use of math/rand and math/rand/v2: the
// other functions draw from a source that all share and nobody seeds.
var seeded = []string{
	"ChaCha8", "New", "NewChaCha8", "NewPCG", "NewSource", "NewZipf", "PCG", "Rand", "Source", "Source64", "Zipf",
}

// listed tells whether an import is on a list of the form of pureImports.
func listed(list []string, imp string) bool {
	return slices.ContainsFunc(list, func(entry string) bool {
		return imp == entry || strings.HasSuffix(entry, "/") && strings.HasPrefix(imp, entry)
	})
}

var majorVersion = regexp.MustCompile(`^v\d+$`)

// localName is what a file calls an import.
func localName(spec *ast.ImportSpec) string {
	if spec.Name != nil {
		return spec.Name.Name
	}
	p := imported(spec)
	if majorVersion.MatchString(path.Base(p)) {
		p = path.Dir(p)
	}
	return path.Base(p)
}

// pureFaults is what a pure package imports or uses of the world outside.
func pureFaults(p *pkg) []string {
	var out []string
	for _, f := range p.files {
		names := map[string]string{} // import path by local name
		for _, spec := range f.Imports {
			imp, name := imported(spec), localName(spec)
			names[name] = imp
			_, own := ours(imp)
			allowed := own || listed(pureImports, imp) || p.name == concurrent && listed(concurrentImports, imp)
			if !allowed || imp == "crypto/rand" {
				out = append(out, fmt.Sprintf("%s: %s is pure and may not import %s", p.at(spec), p.name, imp))
			}
			if name == "." {
				out = append(out, fmt.Sprintf("%s: %s is imported without a name", p.at(spec), imp))
			}
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if what := impureUse(n, names, p.name == concurrent); what != "" {
				out = append(out, fmt.Sprintf("%s: %s is pure and may not use %s", p.at(n), p.name, what))
			}
			return true
		})
	}
	return out
}

// impureUse names what a node uses that a pure package may not, or nothing.
func impureUse(n ast.Node, names map[string]string, goroutines bool) string {
	switch n := n.(type) {
	case *ast.GoStmt:
		if !goroutines {
			return "go"
		}
	case *ast.CallExpr:
		if id, ok := n.Fun.(*ast.Ident); ok && (id.Name == "print" || id.Name == "println") {
			return id.Name
		}
	case *ast.SelectorExpr:
		id, ok := n.X.(*ast.Ident)
		if !ok {
			return ""
		}
		imp := names[id.Name]
		random := imp == "math/rand" || imp == "math/rand/v2"
		if slices.Contains(impure[imp], n.Sel.Name) || random && !slices.Contains(seeded, n.Sel.Name) {
			return imp + "." + n.Sel.Name
		}
	}
	return ""
}

// initFaults is each init function.
func initFaults(p *pkg) []string {
	var out []string
	for _, f := range p.files {
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && fn.Name.Name == "init" {
				out = append(out, fmt.Sprintf("%s: %s has an init function", p.at(fn), p.name))
			}
		}
	}
	return out
}

// globalFaults is each package variable that is not an error, a table, a
// compiled expression or an embedded file, and each that is written to.
func globalFaults(p *pkg) []string {
	var out []string
	vars := map[string]bool{}
	for _, f := range p.files {
		for _, d := range f.Decls {
			decl, ok := d.(*ast.GenDecl)
			if !ok || decl.Tok != token.VAR {
				continue
			}
			for _, s := range decl.Specs {
				spec, ok := s.(*ast.ValueSpec)
				if !ok {
					continue
				}
				for _, name := range spec.Names {
					vars[name.Name] = true
				}
				if !fixedVar(decl, spec) {
					out = append(out, fmt.Sprintf("%s: package variable %s: want a constant, an error, a table, a compiled expression or an embedded file", p.at(spec), spec.Names[0].Name))
				}
			}
		}
	}
	for _, f := range p.files {
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Body != nil {
				out = append(out, writeFaults(p, fn, vars)...)
			}
		}
	}
	return out
}

// fixedVar tells whether a package variable is one that nothing need change.
func fixedVar(decl *ast.GenDecl, spec *ast.ValueSpec) bool {
	if len(spec.Names) == 1 && spec.Names[0].Name == "_" {
		return true // a check at compile time
	}
	for _, doc := range []*ast.CommentGroup{decl.Doc, spec.Doc} {
		if doc != nil && slices.ContainsFunc(doc.List, func(c *ast.Comment) bool { return strings.HasPrefix(c.Text, "//go:embed ") }) {
			return true
		}
	}
	return len(spec.Values) > 0 && !slices.ContainsFunc(spec.Values, func(e ast.Expr) bool { return !fixedValue(e) })
}

// fixedCalls may make a package variable.
var fixedCalls = []string{"errors.New", "fmt.Errorf", "regexp.MustCompile", "template.Must"}

// fixedValue tells whether an expression is a table or the call of a maker of
// errors, expressions or templates. Inside a table, functions of the package
// itself, conversions and mathematics may be called as well.
func fixedValue(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.CallExpr:
		return slices.Contains(fixedCalls, callee(e))
	case *ast.UnaryExpr:
		_, table := e.X.(*ast.CompositeLit)
		return e.Op == token.AND && table && fixedValue(e.X)
	case *ast.CompositeLit:
		fixed := true
		ast.Inspect(e, func(n ast.Node) bool {
			if call, ok := n.(*ast.CallExpr); ok {
				name := callee(call)
				pkg, _, selected := strings.Cut(name, ".")
				switch {
				case name == "make" || name == "new":
					fixed = false
				case selected && pkg != "math" && !slices.Contains(fixedCalls, name):
					fixed = false
				}
			}
			_, function := n.(*ast.FuncLit)
			return !function // its body runs later
		})
		return fixed
	}
	return false
}

// callee is the name of what is called, "pkg.Func" or "Func"; nothing where it
// has none, as in a conversion to a slice.
func callee(call *ast.CallExpr) string {
	switch fun := call.Fun.(type) {
	case *ast.Ident:
		return fun.Name
	case *ast.SelectorExpr:
		if id, ok := fun.X.(*ast.Ident); ok {
			return id.Name + "." + fun.Sel.Name
		}
		return "." + fun.Sel.Name
	}
	return ""
}

// writeFaults is each statement of a function that writes to a package
// variable, by the names: a local of the same name anywhere in the function
// hides the variable.
func writeFaults(p *pkg, fn *ast.FuncDecl, vars map[string]bool) []string {
	local := locals(fn)
	var out []string
	write := func(e ast.Expr) {
		if name := root(e); vars[name] && name != "_" && !local[name] {
			out = append(out, fmt.Sprintf("%s: package variable %s is written to", p.at(e), name))
		}
	}
	ast.Inspect(fn.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				for _, e := range n.Lhs {
					write(e)
				}
			}
		case *ast.IncDecStmt:
			write(n.X)
		case *ast.RangeStmt:
			if n.Tok == token.ASSIGN {
				write(n.Key)
				write(n.Value)
			}
		case *ast.CallExpr:
			if name := callee(n); slices.Contains([]string{"clear", "copy", "delete"}, name) && len(n.Args) > 0 {
				write(n.Args[0])
			}
		}
		return true
	})
	return out
}

// root is the variable at the start of an expression: x of x.y[i].
func root(e ast.Expr) string {
	for {
		switch x := e.(type) {
		case *ast.Ident:
			return x.Name
		case *ast.IndexExpr:
			e = x.X
		case *ast.SelectorExpr:
			e = x.X
		case *ast.SliceExpr:
			e = x.X
		case *ast.StarExpr:
			e = x.X
		case *ast.ParenExpr:
			e = x.X
		default:
			return ""
		}
	}
}

// locals is every name that a function declares.
func locals(fn *ast.FuncDecl) map[string]bool {
	out := map[string]bool{}
	declare := func(e ast.Expr) {
		if id, ok := e.(*ast.Ident); ok {
			out[id.Name] = true
		}
	}
	ast.Inspect(fn, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.Field:
			for _, name := range n.Names {
				declare(name)
			}
		case *ast.ValueSpec:
			for _, name := range n.Names {
				declare(name)
			}
		case *ast.AssignStmt:
			if n.Tok == token.DEFINE {
				for _, e := range n.Lhs {
					declare(e)
				}
			}
		case *ast.RangeStmt:
			if n.Tok == token.DEFINE {
				declare(n.Key)
				declare(n.Value)
			}
		}
		return true
	})
	return out
}

// docFaults is each exported name without a comment, and any number of package
// comments but one.
func docFaults(p *pkg) []string {
	var out []string
	comments := 0
	for _, f := range p.files {
		if text := f.Doc.Text(); text != "" {
			comments++
			if !strings.HasPrefix(text, "Package "+f.Name.Name+" ") {
				out = append(out, fmt.Sprintf("%s: the package comment does not start with Package %s", p.at(f), f.Name.Name))
			}
		}
		for _, d := range f.Decls {
			for _, name := range bare(d) {
				out = append(out, fmt.Sprintf("%s: exported %s has no comment", p.at(name), name.Name))
			}
		}
	}
	if comments != 1 && len(p.files) > 0 {
		out = append(out, fmt.Sprintf("internal/%s has %d package comments, want 1", p.name, comments))
	}
	return out
}

// bare is the exported names of a declaration that no comment explains.
// Constants and variables may share that of their group; a method counts when
// its type is exported.
func bare(d ast.Decl) []*ast.Ident {
	if fn, ok := d.(*ast.FuncDecl); ok {
		if fn.Name.IsExported() && fn.Doc.Text() == "" && (fn.Recv == nil || ast.IsExported(receiver(fn))) {
			return []*ast.Ident{fn.Name}
		}
		return nil
	}
	decl, ok := d.(*ast.GenDecl)
	if !ok {
		return nil
	}
	var out []*ast.Ident
	for _, s := range decl.Specs {
		switch s := s.(type) {
		case *ast.TypeSpec:
			alone := !decl.Lparen.IsValid() && decl.Doc.Text() != ""
			if s.Name.IsExported() && s.Doc.Text() == "" && !alone {
				out = append(out, s.Name)
			}
		case *ast.ValueSpec:
			if s.Doc.Text() != "" || s.Comment.Text() != "" || decl.Doc.Text() != "" {
				continue
			}
			for _, name := range s.Names {
				if name.IsExported() {
					out = append(out, name)
				}
			}
		}
	}
	return out
}

// receiver is the name of the type that a method belongs to.
func receiver(fn *ast.FuncDecl) string {
	e := fn.Recv.List[0].Type
	if star, ok := e.(*ast.StarExpr); ok {
		e = star.X
	}
	switch x := e.(type) {
	case *ast.IndexExpr:
		e = x.X
	case *ast.IndexListExpr:
		e = x.X
	}
	return root(e)
}
