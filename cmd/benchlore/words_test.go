package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ownPatterns are the files whose patterns may hold words: they read formats, file names
// or other programs' messages, and nothing that a person says of a device.
var ownPatterns = map[string]string{
	"schema/board/topology.go":        "names of nets",
	"schema/board/bodies.go":          "names of packages",
	"schema/casefile/work.go":         "forms of a rework's class",
	"schema/quantity/reading.go":      "how a reading is written",
	"schema/quantity/expect.go":       "how a limit is written",
	"schema/diagnostic/yaml.go":       "messages of the YAML library",
	"build/reason/method/method.go":   "messages of the YAML library",
	"build/reason/verdict/parts.go":   "names of supply nets",
	"build/output/site/sheet.go":      "our own pages",
	"build/output/site/docs.go":       "our own texts",
	"schema/filename/filename.go":     "names that an operating system keeps",
	"schema/quantity/part.go":         "how a rating is written",
	"build/output/pack/exchanged.go":  "our own file names",
	"build/output/picture/grammar.go": "functions of SVG",
}

// TestPeoplesWordsAreData: no pattern in the source recognises what people say; that is
// data of the terms, which one reader reads.
func TestPeoplesWordsAreData(t *testing.T) {
	word := regexp.MustCompile(`[A-Za-zÀ-ÿ]{4,}`)
	seen := map[string]bool{}
	for _, root := range []string{"schema", "build", "cmd"} {
		require.NoError(t, filepath.WalkDir(filepath.Join("..", "..", root), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			name := filepath.ToSlash(strings.TrimPrefix(path, filepath.Join("..", "..")+string(filepath.Separator)))
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
			require.NoError(t, err)
			ast.Inspect(file, func(n ast.Node) bool {
				call, ok := n.(*ast.CallExpr)
				if !ok || len(call.Args) != 1 {
					return true
				}
				fun, ok := call.Fun.(*ast.SelectorExpr)
				if !ok || fun.Sel.Name != "MustCompile" {
					return true
				}
				for _, lit := range literals(call.Args[0]) {
					// Classes such as \p{Latin} and [a-z] are no words.
					plain := regexp.MustCompile(`\\p\{?\w+\}?|\\[a-zA-Z]|\[[^\]]*\]|\(\?[a-zA-Z]+[:)]`).ReplaceAllString(lit, " ")
					if w := word.FindString(plain); w != "" {
						seen[name] = true
						assert.NotEmpty(t, ownPatterns[name], "%s has a pattern with the word %q; words that people say are data of schema/terms", name, w)
					}
				}
				return true
			})
			return nil
		}))
	}
	for name := range ownPatterns {
		if strings.HasSuffix(name, ".go") {
			assert.True(t, seen[name], "%s has no pattern with words any more", name)
		}
	}
}

// literals are the strings in an expression.
func literals(e ast.Expr) (out []string) {
	ast.Inspect(e, func(n ast.Node) bool {
		if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			if s, err := strconv.Unquote(lit.Value); err == nil {
				out = append(out, s)
			}
		}
		return true
	})
	return out
}
