package site

import "github.com/alecthomas/chroma/v2"

// The lexers of what boards and their consoles print. The library's own come three
// hundred at a time, with three megabytes of rules that are read before main does
// anything; these are few and take any text in one pass: no rule repeats a repetition.

var lexers = func() map[string]*chroma.RegexLexer {
	out := map[string]*chroma.RegexLexer{}
	for name, rules := range map[string]chroma.Rules{
		"text":    {"root": {{Pattern: `.+|\n`, Type: chroma.Text}}},
		"json":    {"root": jsonRules},
		"ini":     {"root": iniRules},
		"diff":    {"root": diffRules},
		"bash":    {"root": shellRules},
		"python":  {"root": pythonRules},
		"console": {"root": consoleRules},
	} {
		out[name] = chroma.MustNewLexer(&chroma.Config{Name: name}, func() chroma.Rules { return rules })
	}
	out["sh"] = out["bash"]
	return out
}()

const (
	doubleQuoted = `"(?:\\.|[^"\\\n])*"`
	singleQuoted = `'(?:\\.|[^'\\\n])*'`
	decimal      = `-?\b\d+(?:\.\d+)?(?:[eE][+-]?\d+)?\b`
	hexadecimal  = `\b0[xX][0-9A-Fa-f]+\b`
)

// rest takes one sign that no other rule took.
var rest = chroma.Rule{Pattern: `.|\n`, Type: chroma.Text}

var jsonRules = []chroma.Rule{
	{Pattern: `[ \t\r\n]+`, Type: chroma.TextWhitespace},
	{Pattern: doubleQuoted + `(?=[ \t]*:)`, Type: chroma.NameTag},
	{Pattern: doubleQuoted, Type: chroma.LiteralStringDouble},
	{Pattern: `\b(?:true|false|null)\b`, Type: chroma.KeywordConstant},
	{Pattern: decimal, Type: chroma.LiteralNumber},
	{Pattern: `[{}\[\],:]`, Type: chroma.Punctuation},
	rest,
}

var iniRules = []chroma.Rule{
	{Pattern: `(?m)^[ \t]*[;#][^\n]*`, Type: chroma.CommentSingle},
	{Pattern: `(?m)^\[[^\]\n]*\]`, Type: chroma.Keyword},
	{Pattern: `(?m)^[A-Za-z0-9_.-]+(?=[ \t]*=)`, Type: chroma.NameTag},
	{Pattern: doubleQuoted, Type: chroma.LiteralStringDouble},
	{Pattern: `[^\n"]+`, Type: chroma.Text},
	rest,
}

var diffRules = []chroma.Rule{
	{Pattern: `(?m)^(?:diff|index|---|\+\+\+)[^\n]*`, Type: chroma.GenericHeading},
	{Pattern: `(?m)^@@[^\n]*`, Type: chroma.GenericSubheading},
	{Pattern: `(?m)^\+[^\n]*`, Type: chroma.GenericInserted},
	{Pattern: `(?m)^-[^\n]*`, Type: chroma.GenericDeleted},
	{Pattern: `[^\n]+`, Type: chroma.Text},
	rest,
}

var shellRules = []chroma.Rule{
	{Pattern: `(?:(?<=\s)|(?m:^))#[^\n]*`, Type: chroma.CommentSingle},
	{Pattern: doubleQuoted, Type: chroma.LiteralStringDouble},
	{Pattern: singleQuoted, Type: chroma.LiteralStringSingle},
	{Pattern: `\$(?:\w+|\{\w+\}|[?!#@*$])`, Type: chroma.NameConstant},
	{Pattern: `\b(?:if|then|else|elif|fi|for|in|do|done|while|until|case|esac|function|return|exit|export|local|set)\b`, Type: chroma.Keyword},
	{Pattern: hexadecimal, Type: chroma.LiteralNumberHex},
	{Pattern: decimal, Type: chroma.LiteralNumber},
	{Pattern: `[A-Za-z_]\w*`, Type: chroma.Text},
	rest,
}

var pythonRules = []chroma.Rule{
	{Pattern: `#[^\n]*`, Type: chroma.CommentSingle},
	{Pattern: doubleQuoted, Type: chroma.LiteralStringDouble},
	{Pattern: singleQuoted, Type: chroma.LiteralStringSingle},
	{Pattern: `\b(?:True|False|None)\b`, Type: chroma.KeywordConstant},
	{Pattern: `\b(?:and|as|assert|break|class|continue|def|del|elif|else|except|finally|for|from|global|if|import|in|is|lambda|not|or|pass|raise|return|try|while|with|yield)\b`, Type: chroma.Keyword},
	{Pattern: hexadecimal, Type: chroma.LiteralNumberHex},
	{Pattern: decimal, Type: chroma.LiteralNumber},
	{Pattern: `[A-Za-z_]\w*`, Type: chroma.Text},
	rest,
}

// consoleRules know a prompt by its sign: what follows was typed, all else was printed.
var consoleRules = []chroma.Rule{
	{Pattern: `(?m)^(?:[\w.@:~/ -]{0,40})?(?:[$%#]|=>|>>>?) `, Type: chroma.GenericPrompt},
	{Pattern: `(?i)\b(?:error|fail(?:ed|ure)?|panic|fatal)\b`, Type: chroma.GenericError},
	{Pattern: hexadecimal, Type: chroma.LiteralNumberHex},
	{Pattern: `\w+|[ \t]+`, Type: chroma.GenericOutput},
	{Pattern: `[^\w \t\n]|\n`, Type: chroma.GenericOutput},
}
