package diagnostic

import (
	"regexp"
	"strconv"
	"strings"
)

// yamlLine finds the line in the messages of go.yaml.in/yaml, which carry no
// structured position.
var yamlLine = regexp.MustCompile(`line (\d+): `)

// yamlParser matches the messages of the library's parser, which count lines
// from 0; those of its scanner count from 1.
var yamlParser = regexp.MustCompile(`did not find expected (?:<|node content|'-' indicator|key|',' or)`)

// colonInText is a key whose plain value holds a colon and a space.
var colonInText = regexp.MustCompile(`^ *([A-Za-z][A-Za-z-]*): +([^"'\[{|>&*!%#].*: .*|[^"'\[{|>&*!%#].*:)$`)

// YAMLError turns a YAML syntax error into a diagnostic. Before is the number
// of lines that stood before the YAML in the file.
func YAMLError(t *Text, before int, err error) Diagnostic {
	message := strings.TrimPrefix(err.Error(), "yaml: ")
	line := before + 1
	if m := yamlLine.FindStringSubmatch(message); m != nil {
		if n, convErr := strconv.Atoi(m[1]); convErr == nil {
			line = before + n
		}
		if yamlParser.MatchString(message) {
			line++
		}
		message = strings.Replace(message, m[0], "", 1)
	}
	line = min(max(line, 1), t.Lines())
	for line > before+1 && strings.TrimSpace(t.Line(line)) == "" {
		line-- // an end that came too early is shown where the text ends
	}
	start := t.LineStart(line)
	source := t.Line(line)
	if strings.Contains(message, "mapping values are not allowed") {
		// Most often a colon inside a text, such as a title.
		if m := colonInText.FindStringSubmatchIndex(source); m != nil {
			key, text := source[m[2]:m[3]], strings.TrimSpace(source[m[4]:m[5]])
			return t.At(start+m[4], start+len(source), Error, YAMLSyntax,
				"a text with a colon and a space in it stands in quotes: "+key+": "+strconv.Quote(text))
		}
	}
	indent := len(source) - len(strings.TrimLeft(source, " "))
	d := t.At(start+indent, start+len(source), Error, YAMLSyntax, "YAML cannot be read: "+message)
	if strings.Contains(message, "cannot start any token") && strings.Contains(source, "\t") {
		tab := start + strings.IndexByte(source, '\t')
		d = t.At(tab, tab+1, Error, YAMLTab, "YAML is indented with spaces; this is a tab")
	}
	return d
}
