// Command mutate asks whether the tests of a package bite: it changes one condition,
// operator or constant at a time, runs the package's own tests over the changed file
// (go test -overlay, so that no file of the checkout is touched), and lists the
// changes that no test noticed. What does not compile is no change and is not counted.
//
//	go run ./cmd/mutate [-n 60] [-seed 1] [-run REGEXP] PACKAGE ...
//	go run ./cmd/mutate -data FILES [-n 60] [-seed 1] [-run REGEXP] [-skip REGEXP] PACKAGE ...
//
// Of the many changes that a package allows, n are drawn at random by the seed, all for 0.
//
// With -data it changes cells of files of data (YAML, JSON, TSV) that the packages embed: a
// number by a factor or by one digit, a string left out of a list, a boolean, an entry.
// The tests are built once, and each change is made in the built program, so that it
// costs no more than running them; a test that reads the same file from the disk sees it
// unchanged. Systems that refuse a changed program (macOS) refuse this.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

func main() {
	most := flag.Int("n", 60, "changes tried in each package")
	seed := flag.Uint64("seed", 1, "seed of the draw")
	run := flag.String("run", "", "only these tests, as for go test")
	skip := flag.String("skip", "", "not these tests, as for go test")
	files := flag.String("data", "", "change these files of data instead of Go code; patterns parted by commas")
	flag.Parse()
	if flag.NArg() == 0 {
		flag.Usage()
		os.Exit(2)
	}
	if *files != "" {
		names, err := dataFiles(*files)
		lived := false
		if err == nil {
			lived, err = tryData(os.Stdout, names, flag.Args(), *most, *seed, *run, *skip)
		}
		switch {
		case err != nil:
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		case lived:
			os.Exit(1)
		}
		return
	}
	lived := false
	for _, dir := range flag.Args() {
		found, err := mutants(dir)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
		r := rand.New(rand.NewPCG(*seed, 0))
		r.Shuffle(len(found), func(i, j int) { found[i], found[j] = found[j], found[i] })
		killed, tried := 0, 0
		for _, m := range found {
			if *most > 0 && tried == *most {
				break
			}
			switch noticed, err := m.try(dir, *run, *skip); {
			case errors.Is(err, errBuild):
			case err != nil:
				fmt.Fprintln(os.Stderr, err)
				os.Exit(2)
			case noticed:
				killed++
				tried++
			default:
				tried++
				lived = true
				fmt.Printf("%s: %s became %s and no test noticed\n", m.place, m.was, m.is)
			}
		}
		fmt.Printf("%s: %d of %d changes noticed, of %d that could be tried\n", dir, killed, tried, len(found))
	}
	if lived {
		os.Exit(1)
	}
}

// mutant is one change of one file.
type mutant struct {
	file       string
	start, end int // of what is changed, in bytes
	was, is    string
	place      token.Position
}

// turned says what stands for an operator instead.
var turned = map[token.Token]string{
	token.LSS: "<=", token.LEQ: "<", token.GTR: ">=", token.GEQ: ">", token.EQL: "!=", token.NEQ: "==",
	token.LAND: "||", token.LOR: "&&", token.ADD: "-", token.SUB: "+", token.MUL: "/", token.QUO: "*",
}

// mutants lists the changes of a package's files, tests left out.
func mutants(dir string) ([]mutant, error) {
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	names = slices.DeleteFunc(names, func(name string) bool { return strings.HasSuffix(name, "_test.go") })
	if len(names) == 0 {
		return nil, fmt.Errorf("%s holds no Go files", dir)
	}
	var out []mutant
	for _, name := range names {
		src, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		list, err := mutantsOf(name, src)
		if err != nil {
			return nil, err
		}
		out = append(out, list...)
	}
	return out, nil
}

func mutantsOf(name string, src []byte) (out []mutant, err error) {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, name, src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	add := func(pos token.Pos, was, is string) {
		at := files.Position(pos)
		out = append(out, mutant{name, at.Offset, at.Offset + len(was), was, is, at})
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok != token.IMPORT
		case *ast.Field: // tags and sizes of arrays
			return n.Tag == nil
		case *ast.BinaryExpr:
			if is, ok := turned[n.Op]; ok {
				add(n.OpPos, n.Op.String(), is)
			}
		case *ast.BasicLit:
			if is, ok := other(n); ok {
				add(n.Pos(), n.Value, is)
			}
		case *ast.Ident:
			switch n.Name {
			case "true":
				add(n.Pos(), "true", "false")
			case "false":
				add(n.Pos(), "false", "true")
			}
		case *ast.BranchStmt:
			if n.Tok == token.CONTINUE && n.Label == nil {
				add(n.Pos(), "continue", "break")
			}
		}
		return true
	})
	return out, nil
}

// other is a number beside the one that stands there: far enough that a rounding does
// not hide it.
func other(n *ast.BasicLit) (string, bool) {
	switch n.Kind {
	case token.INT:
		v, err := strconv.ParseInt(n.Value, 0, 64)
		return fmt.Sprint(v + 1), err == nil
	case token.FLOAT:
		v, err := strconv.ParseFloat(n.Value, 64)
		return strconv.FormatFloat(v*1.5+0.01, 'g', -1, 64), err == nil
	}
	return "", false
}

var errBuild = errors.New("it does not compile")

// patience is how long the tests of one change may take; a change that makes a loop
// endless is noticed by that.
const patience = 2 * time.Minute

// try runs the tests of the package with the change; noticed is whether one failed.
func (m *mutant) try(dir, run, skip string) (noticed bool, err error) {
	src, err := os.ReadFile(m.file)
	if err != nil {
		return false, err
	}
	folder, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(folder)
	changed := filepath.Join(folder, "changed.go")
	text := slices.Concat(src[:m.start], []byte(m.is), src[m.end:])
	if err := os.WriteFile(changed, text, 0o600); err != nil {
		return false, err
	}
	whole, err := filepath.Abs(m.file)
	if err != nil {
		return false, err
	}
	overlay, err := json.Marshal(map[string]map[string]string{"Replace": {whole: changed}})
	if err != nil {
		return false, err
	}
	list := filepath.Join(folder, "overlay.json")
	if err := os.WriteFile(list, overlay, 0o600); err != nil {
		return false, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	args := []string{"test", "-count=1", "-failfast", "-vet=off", "-short", "-overlay", list}
	if run != "" {
		args = append(args, "-run", run)
	}
	if skip != "" {
		args = append(args, "-skip", skip)
	}
	command := exec.CommandContext(ctx, "go", append(args, ".")...)
	command.Dir = dir
	out, err := command.CombinedOutput()
	if bytes.Contains(out, []byte("[build failed]")) || bytes.Contains(out, []byte("[setup failed]")) {
		return false, errBuild
	}
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) && ctx.Err() == nil {
		return false, err
	}
	return err != nil, nil
}
