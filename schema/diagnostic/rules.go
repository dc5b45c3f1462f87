package diagnostic

// Rule names what was broken. The name is stable: reports, tests and people
// refer to it.
type Rule string

// The rules, each with its explanation in [Rule.Help].
const (
	BadFile        Rule = "bad-file"
	FileTooLarge   Rule = "file-too-large"
	InvalidUTF8    Rule = "invalid-utf8"
	ByteOrderMark  Rule = "byte-order-mark"
	LineEnds       Rule = "line-ends"
	FrontMatter    Rule = "front-matter"
	YAMLSyntax     Rule = "yaml-syntax"
	YAMLTab        Rule = "yaml-tab"
	YAMLAlias      Rule = "yaml-alias"
	KeyTwice       Rule = "key-twice"
	UnknownKey     Rule = "unknown-key"
	MissingKey     Rule = "missing-key"
	WrongType      Rule = "wrong-type"
	WrongValue     Rule = "wrong-value"
	UnknownTerm    Rule = "unknown-term"
	TermTwice      Rule = "term-twice"
	DateOrder      Rule = "date-order"
	IDTwice        Rule = "id-twice"
	FileName       Rule = "file-name"
	UnknownDevice  Rule = "unknown-device"
	UnknownCase    Rule = "unknown-case"
	ReturnOrder    Rule = "return-order"
	MissingPhoto   Rule = "missing-photo"
	PathEscape     Rule = "path-escape"
	PersonalData   Rule = "personal-data"
	SectionName    Rule = "section-name"
	SectionTwice   Rule = "section-twice"
	SectionHeld    Rule = "section-held"
	UnclosedFence  Rule = "unclosed-fence"
	TableRow       Rule = "table-row"
	TableColumn    Rule = "table-column"
	BadQuantity    Rule = "bad-quantity"
	PartSwap       Rule = "part-swap"
	PartLeftOff    Rule = "part-left-off"
	PartBridged    Rule = "part-bridged"
	ProtectivePart Rule = "protective-part"
	BoardFile      Rule = "board-file"
	BoardPart      Rule = "board-part"
	BoardPoint     Rule = "board-point"
	BoardPhoto     Rule = "board-photo"
	FastenerMark   Rule = "fastener-mark"
	FastenerCount  Rule = "fastener-count"
	NoCause        Rule = "no-cause"
	NoSymptom      Rule = "no-symptom"
	NoProof        Rule = "no-proof"
	EmptyNotebook  Rule = "empty-notebook"
	NoNotebookFile Rule = "no-notebook-file"
	Teach          Rule = "teach"
	MergeMarker    Rule = "merge-marker"
	TakenAfter     Rule = "taken-after"
	NotJudged      Rule = "not-judged"
	NoHazard       Rule = "no-hazard"
	PrivateForm    Rule = "private-form"
	TooMuch        Rule = "too-much"
	StillOut       Rule = "still-out"
	NoAcceptance   Rule = "no-acceptance"
	UnknownWhat    Rule = "unknown-what"
	WhatUnit       Rule = "what-unit"
	LooseTolerance Rule = "loose-tolerance"
	UnusedPhoto    Rule = "unused-photo"
	LongTime       Rule = "long-time"
	DecimalComma   Rule = "decimal-comma"
)

var help = map[Rule]string{
	BadFile:        "A file cannot be read: a directory, a link that leads nowhere or out of the notebook, or a fault of the disk.",
	FileTooLarge:   "A file is larger than the limit for its kind.",
	InvalidUTF8:    "Text files are UTF-8.",
	ByteOrderMark:  "A file begins with a byte-order mark, which is not needed; it is read and kept.",
	LineEnds:       "Lines end with CR LF; they are read as usual and kept as they are.",
	FrontMatter:    "A file begins with front matter: YAML between two lines of three hyphens.",
	YAMLSyntax:     "The YAML cannot be read.",
	YAMLTab:        "YAML is indented with spaces, never with tabs.",
	YAMLAlias:      "Anchors, aliases and tags are not used in notebooks.",
	KeyTwice:       "A key stands twice in one mapping.",
	UnknownKey:     "A key is not in the schema.",
	MissingKey:     "A key that the schema requires is absent.",
	WrongType:      "A value has another type than the schema asks for.",
	WrongValue:     "A value is not one that the schema allows.",
	UnknownTerm:    "A word is not among the controlled words, built in or of the workshop.",
	TermTwice:      "One word or synonym has two meanings.",
	DateOrder:      "Dates follow one another: opened, closed, followed; none lies ahead.",
	IDTwice:        "Two files have one id, as copies that a sync leaves behind do.",
	FileName:       "A file's name begins with the id of what it holds.",
	UnknownDevice:  "A case names a device that has no file in devices/.",
	UnknownCase:    "A case refers to, links to or mentions a case that the notebook does not hold.",
	ReturnOrder:    "A comeback refers to an earlier case.",
	MissingPhoto:   "A photo that a case names or its text shows does not exist.",
	PathEscape:     "A path leads out of the case's own folder.",
	PersonalData:   "Text looks like a customer's personal data, which does not belong in a notebook.",
	SectionName:    "A section's name is close to a known one.",
	SectionTwice:   "A section stands twice.",
	SectionHeld:    "A section stays in its file, since neither the format nor notebook.yaml names it.",
	UnclosedFence:  "A fenced code block is not closed.",
	TableRow:       "A table row has another number of cells than its header.",
	TableColumn:    "A table lacks a column that gives its rows their meaning.",
	BadQuantity:    "A value, reading or expectation cannot be read.",
	PartSwap:       "A part was substituted by one that does not fit, fits with a remark, or cannot be judged.",
	PartLeftOff:    "A part was left off; what it did is lost.",
	PartBridged:    "A part was bridged; what it did is lost.",
	ProtectivePart: "A part that protects people or the device was bridged or left off.",
	BoardFile:      "A parts list or netlist has rows that cannot be used.",
	BoardPart:      "A part of a case is not on its board, or has another value, package or net there.",
	BoardPoint:     "A point is named that no board of the device has.",
	BoardPhoto:     "The points of a board's picture do not lay it onto the board: too few, unknown, on one line, or not going together.",
	FastenerMark:   "A mark on a fastener map stands twice, or a place is off the map.",
	FastenerCount:  "Fasteners do not add up: in a device's record, or what came out and what went back in.",
	NoCause:        "A closed case says no cause.",
	NoSymptom:      "A case does not say what the owner noticed, or a closed one names no symptom.",
	NoProof:        "A case closed as fixed does not say how that was proved, or says no more than that it was.",
	EmptyNotebook:  "The notebook holds no case.",
	NoNotebookFile: "The folder has no notebook.yaml.",
	MergeMarker:    "Lines that a merge of two versions left behind.",
	TakenAfter:     "A row of a repaired case contradicts its cause and does not say whether it was taken before or after the repair.",
	NotJudged:      "A reading stands beside an expected value and could not be judged.",
	NoHazard:       "A device of this kind usually has a hazard that neither the case nor its device names.",
	StillOut:       "A case closed as fixed whose latest reading or finding after the repair says that something is still wrong; earth, insulation and parts that protect can be silenced by nothing.",
	NoAcceptance:   "A repair on mains without a record of earth, insulation and function after it.",
	UnknownWhat:    "A row of readings does not say what was measured in a word that is known, so that nothing is said of it.",
	WhatUnit:       "A reading or an expected value has a unit that what was measured does not have.",
	LooseTolerance: "A tolerance so wide that next to nothing could be out of it.",
	UnusedPhoto:    "A picture lies in a case's folder and nothing shows it.",
	LongTime:       "More minutes than one repair takes.",
	DecimalComma:   "A decimal comma parts two values in YAML; the sign is a point.",
	TooMuch:        "A file holds more than any case needs, so that it is not read.",
	PrivateForm:    "Something private is written in a form that cannot be cut out safely, so nothing of the file is read.",
	Teach:          "What a closed case lacks to be worked through blind.",
}

// Help explains the rule in one sentence.
func (r Rule) Help() string { return help[r] }

// rules returns every rule, unordered.
func rules() []Rule {
	list := make([]Rule, 0, len(help))
	for r := range help {
		list = append(list, r)
	}
	return list
}
