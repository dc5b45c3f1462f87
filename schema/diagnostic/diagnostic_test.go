package diagnostic

import (
	"bytes"
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/owenrumney/go-sarif/v3/pkg/report/v210/sarif"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const sample = "erste Zeile\n\tµF = 4.7 Ω\r\nlast"

func sampleList() []Diagnostic {
	text := NewText("cases/a b.md", []byte(sample))
	at := strings.Index(sample, "4.7")
	d := text.At(at, at+3, Error, BadQuantity, "no value")
	d.Suggestion = "4.7 kΩ"
	return []Diagnostic{d, text.At(len(sample), len(sample), Warning, NoProof, "not \x1b[31mproved"),
		{File: "x", Severity: Note, Rule: EmptyNotebook, Message: "empty"}}
}

func TestPlaces(t *testing.T) {
	text := NewText("x", []byte(sample))
	assert.Equal(t, 3, text.Lines())
	assert.Equal(t, "\tµF = 4.7 Ω", text.Line(2))
	for offset := range len(sample) + 1 {
		if offset < len(sample) && sample[offset]&0xC0 == 0x80 {
			continue // inside a character
		}
		line, column := text.Place(offset)
		assert.Equal(t, offset, text.Offset(line, column))
	}
	line, column := text.Place(strings.Index(sample, "4.7"))
	assert.Equal(t, []int{2, 7}, []int{line, column}, "columns count characters: the tab and µ are one each")
	line, column = text.Place(1 << 30)
	assert.Equal(t, []int{3, 5}, []int{line, column})
}

func TestWriteText(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, sampleList()))
	want := "cases/a b.md:2:7: error: no value; did you mean \"4.7 kΩ\"? [bad-quantity]\n" +
		"     2 | \tµF = 4.7 Ω\n" +
		"       | \t     ^^^\n" +
		"cases/a b.md:3:5: warning: not \uFFFD[31mproved [no-proof]\n" +
		"     3 | last\n" +
		"       |     ^\n" +
		"x: note: empty [empty-notebook]\n"
	assert.Equal(t, want, b.String())
}

func TestWriteJSON(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, sampleList()))
	var got struct {
		Problems []struct {
			File, Severity, Rule, Message, Suggestion string
			Line, Column, Length                      int
		}
		Errors, Warnings int
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &got))
	assert.Equal(t, 1, got.Errors)
	assert.Equal(t, 1, got.Warnings)
	assert.Equal(t, "error", got.Problems[0].Severity)
	assert.Equal(t, 3, got.Problems[0].Length)
	b.Reset()
	require.NoError(t, WriteJSON(&b, nil))
	assert.Contains(t, b.String(), `"problems": []`)
}

// oasis compiles the schema of SARIF 2.1.0 out of the library's source, which keeps it to
// itself; its own check fills in defaults that are not valid.
func oasis(t *testing.T) *jsonschema.Schema {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/owenrumney/go-sarif/v3").Output()
	require.NoError(t, err)
	file, err := parser.ParseFile(token.NewFileSet(),
		filepath.Join(strings.TrimSpace(string(out)), "pkg", "report", "v210", "sarif", "schema.go"), nil, 0)
	require.NoError(t, err)
	longest := ""
	ast.Inspect(file, func(n ast.Node) bool {
		if lit, ok := n.(*ast.BasicLit); ok && len(lit.Value) > len(longest) {
			longest = lit.Value
		}
		return true
	})
	text, err := strconv.Unquote(longest)
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("sarif.json", decoded(t, []byte(text))))
	schema, err := c.Compile("sarif.json")
	require.NoError(t, err)
	return schema
}

func decoded(t *testing.T, text []byte) any {
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	return v
}

// TestWriteSARIF validates against the schema that OASIS publishes with SARIF
// 2.1.0, which the library carries.
func TestWriteSARIF(t *testing.T) {
	for _, list := range [][]Diagnostic{nil, sampleList()} {
		var b bytes.Buffer
		require.NoError(t, WriteSARIF(&b, list, "1.2.3"))
		report, err := sarif.FromBytes(b.Bytes())
		require.NoError(t, err)
		require.NoError(t, oasis(t).Validate(decoded(t, b.Bytes())))
		require.Len(t, report.Runs, 1)
		require.Len(t, report.Runs[0].Results, len(list))
		if list != nil {
			region := report.Runs[0].Results[0].Locations[0].PhysicalLocation.Region
			assert.Equal(t, 2, *region.StartLine)
			assert.Equal(t, 7, *region.StartColumn)
			assert.Equal(t, 10, *region.EndColumn)
			for i, r := range report.Runs[0].Results {
				rule := report.Runs[0].Tool.Driver.Rules[r.RuleIndex]
				assert.Equal(t, *r.RuleID, *rule.ID)
				assert.Equal(t, string(list[i].Rule), *r.RuleID)
				assert.Equal(t, list[i].Rule.Help(), *rule.ShortDescription.Text)
			}
			assert.Equal(t, "cases/a%20b.md", *report.Runs[0].Results[0].Locations[0].PhysicalLocation.ArtifactLocation.URI)
		}
	}
}

// TestEveryRuleHasHelp reads the constants from the source, so that a new rule
// without a sentence is noticed.
func TestEveryRuleHasHelp(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "rules.go", nil, 0)
	require.NoError(t, err)
	n := 0
	ast.Inspect(file, func(node ast.Node) bool {
		if spec, ok := node.(*ast.ValueSpec); ok && len(spec.Values) == 1 {
			if lit, ok := spec.Values[0].(*ast.BasicLit); ok {
				n++
				assert.NotEmpty(t, Rule(strings.Trim(lit.Value, `"`)).Help(), lit.Value)
			}
		}
		return true
	})
	assert.Equal(t, len(rules()), n)
	assert.Greater(t, n, 20)
}

func TestSortIsTotal(t *testing.T) {
	list := []Diagnostic{{File: "b"}, {File: "a", Line: 2}, {File: "a", Line: 1, Column: 3},
		{File: "a", Line: 1, Column: 2, Rule: "z"}, {File: "a", Line: 1, Column: 2, Rule: "y"}}
	Sort(list)
	for i := 1; i < len(list); i++ {
		assert.Negative(t, Compare(list[i-1], list[i]))
	}
}
