package casefile

import (
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchlore/schema"
)

// schemaLeaves walks the published JSON Schema for itself.
func schemaLeaves(t *testing.T) (leaves []string) {
	t.Helper()
	var doc map[string]any
	require.NoError(t, json.Unmarshal(schema.CaseJSON, &doc))
	var walk func(path string, s map[string]any)
	walk = func(path string, s map[string]any) {
		forms, _ := s["oneOf"].([]any)
		for _, form := range append(forms, s) {
			form := form.(map[string]any)
			if form["oneOf"] != nil {
				continue
			}
			properties, ok := form["properties"].(map[string]any)
			if !ok {
				leaves = append(leaves, path)
				continue
			}
			for key, below := range properties {
				walk(strings.TrimPrefix(path+"."+key, "."), below.(map[string]any))
			}
		}
	}
	walk("", doc)
	leaves = slices.DeleteFunc(leaves, func(l string) bool { return l == "private" }) // kept whole, by nobody read
	slices.Sort(leaves)
	return leaves
}

// structLeaves are the leaves that a [Case] can hold.
func structLeaves(path string, typ reflect.Type) (leaves []string) {
	for typ.Kind() == reflect.Pointer {
		typ = typ.Elem()
	}
	if typ.Kind() != reflect.Struct {
		return []string{path}
	}
	if typ == reflect.TypeFor[Device]() {
		leaves = append(leaves, path)
	}
	for i := range typ.NumField() {
		if key := typ.Field(i).Tag.Get("yaml"); key != "" && key != "-" {
			leaves = append(leaves, structLeaves(strings.TrimPrefix(path+"."+key, "."), typ.Field(i).Type)...)
		}
	}
	return leaves
}

// TestFieldsAreTheSchemas: the table, the JSON Schema and the Go model are three
// accounts of one thing.
func TestFieldsAreTheSchemas(t *testing.T) {
	var table []string
	for _, f := range Fields {
		table = append(table, f.Path)
	}
	assert.Equal(t, table, structLeaves("", reflect.TypeFor[Case]()), "in the order in which they are written")
	slices.Sort(table)
	assert.Equal(t, schemaLeaves(t), table)
}

// leafValues are what the leaves of a full case hold, and what each is changed to;
// every text stands once in the file.
var leafValues = map[string][2]string{
	"case": {"2026-0777", "2026-0778"}, "from": {"quayside", "harbourside"}, "title": {"Lamp goes dark", "Lamp: goes #dark"},
	"device": {"lumadane-arc", "lumadane-bow"}, "device.kind": {"lamp", "kettle"},
	"device.maker": {"Lumadane", "Oakhaven: Sons"}, "device.model": {"Arc 7", "Bow, 8"},
	"board": {"Main rev C", "Driver rev D"}, "opened": {"2026-03-04", "2026-03-03"},
	"closed": {"2026-03-05", "2026-03-06"}, "by": {"QW", "ZX"},
	"symptoms": {"flicker, no-power", "hum"}, "absent": {"smell", "buzz, arcs"}, "before": {"storm", "dropped"},
	"hazards":     {"mains", "lithium, laser"},
	"cause.fault": {"joint-cracked", "part-open"}, "cause.at": {"power-supply", "relay"}, "cause.origin": {"heat", "wear"},
	"outcome": {"repairable", "fixed"}, "barrier": {"lack-of-equipment", "item-too-worn-out"},
	"confirmed":         {"two hours on", "\"three\" hours: 'on'"},
	"minutes.diagnosis": {"41", "0"}, "minutes.repair": {"52", "63"}, "cost.parts": {"0.80", "1.20"}, "cost.charged": {"47.5", "48"},
	"fasteners.out": {"17", "18"}, "fasteners.in": {"16", "19"}, "fasteners.reason": {"one was lost", "none"},
	"returns": {"2025-0999", "2025-0998"}, "followed": {"2026-06-01", "2026-06-02"}, "tags": {"blue, red-label", "green"},
	"source.standard": {"open-repair-data", "other"}, "source.id": {"ex_12", "ex_13"},
	"source.provider": {"Example House", "Another"}, "source.country": {"NOR", "SWE"},
	"source.partner-category": {"Lamps ~ desk", "x"}, "source.category": {"Lamp-like", "y"},
	"source.category-id": {"3321", "12"}, "source.brand": {"Nobody", "Anybody"},
	"source.year": {"1998", "1999"}, "source.age": {"28.5", "27"}, "source.status": {"Fixed it", "Broken"},
	"source.barrier": {"Worn", "Stuck"}, "source.group": {"G9", "G10"},
	"source.event-date": {"2026-01-31", "2026-02-01"}, "source.record-date": {"2026-01-30", "2026-02-02"},
	"source.problem": {"it flickered once", "two\nlines"},
	"source.empty":   {"maker-name, size", "colour"}, "source.guessed": {"symptoms", "symptoms"}, "source.licence": {"CC0", "CC BY"},
	"source.credit": {"Example people", "more people"},
}

// writtenValue is how a front matter says the value, and the style of it.
func writtenValue(f Field, v string) string {
	switch {
	case f.List():
		return "[" + v + "]"
	case f.Kind == Whole, f.Kind == Money, f.Kind == Date:
		return v
	}
	return "'" + v + "'"
}

// fullCase writes a case with every leaf; style says how its mappings are.
func fullCase(style, device string) string {
	var b strings.Builder
	b.WriteString("---\n# a note of the shop\n")
	open := ""
	for i, f := range Fields {
		key, leaf, nested := strings.Cut(f.Path, ".")
		if f.Kind == Pictures {
			b.WriteString("photos: # of both sides\n  - {file: ring.jpg, caption: The ring, marks: [{x: 0.5, \"y\": 0.25, label: here}]} # best one\n  - file: back.jpg\n    caption: The back\n    # taken late\n    compare: ring.jpg\n")
			continue
		}
		if key == "device" && (f.Path == "device") != (device == "id") {
			continue
		}
		value := writtenValue(f, leafValues[f.Path][0])
		last := i+1 == len(Fields) || Fields[i+1].Key() != key
		switch {
		case !nested:
			fmt.Fprintf(&b, "%s: %s # about %s\n", key, value, key)
		case style == "flow":
			if open != key {
				fmt.Fprintf(&b, "%s: {", key)
			} else {
				b.WriteString(", ")
			}
			fmt.Fprintf(&b, "%s: %s", leaf, value)
			if last {
				fmt.Fprintf(&b, "} # about %s\n", key)
			}
		case style == "flow over lines":
			if open != key {
				fmt.Fprintf(&b, "%s: {\n", key)
			}
			fmt.Fprintf(&b, "    %s: %s,\n", leaf, value)
			if last {
				b.WriteString("  }\n")
			}
		default:
			if open != key {
				fmt.Fprintf(&b, "%s:\n", key)
			}
			fmt.Fprintf(&b, "   %s: %s   # about %s\n", leaf, value, f.Path)
		}
		open = key
	}
	b.WriteString("# the end\n---\n## Symptom\n\nGoes dark.\n")
	return b.String()
}

// decoded reads a front matter by the YAML library alone.
func decoded(t *testing.T, src string) map[string]any {
	t.Helper()
	front, _, ok := strings.Cut(strings.TrimPrefix(strings.ReplaceAll(src, "\r\n", "\n"), "---\n"), "\n---\n")
	require.True(t, ok, src)
	var out map[string]any
	require.NoError(t, yaml.Unmarshal([]byte(front), &out), src)
	return out
}

// without removes a leaf from decoded values, and mappings that it leaves empty.
func without(m map[string]any, path []string) {
	if len(path) > 1 {
		below, ok := m[path[0]].(map[string]any)
		if !ok {
			return
		}
		without(below, path[1:])
		if len(below) > 0 {
			return
		}
	}
	delete(m, path[0])
}

// TestEveryLeaf changes and empties every leaf beside all others. What the file
// then holds is judged on its bytes and by another decoder.
func TestEveryLeaf(t *testing.T) {
	for _, style := range []string{"flow", "flow over lines", "block", "block with CR LF"} {
		for _, device := range []string{"id", "in place"} {
			src := fullCase(style, device)
			if strings.Contains(style, "CR") {
				src = strings.ReplaceAll(src, "\n", "\r\n")
			}
			f, _ := Parse("2026-0777.md", []byte(src))
			require.NotNil(t, f, src)
			for _, field := range Fields {
				if field.Kind == Pictures || field.Key() == "device" && (field.Path == "device") != (device == "id") {
					continue
				}
				name := style + ", device " + device + ", " + field.Path
				was, now := leafValues[field.Path][0], leafValues[field.Path][1]
				require.Equal(t, was, f.Value(field.Path), name)

				// Changed: exactly the value's own bytes are others.
				next, err := f.SetLeaf(field.Path, now)
				require.NoError(t, err, name)
				old := writtenValue(field, was)
				require.Equal(t, 1, strings.Count(src, ": "+old), name)
				before, after, _ := strings.Cut(src, ": "+old)
				out := string(next.Bytes())
				assert.True(t, strings.HasPrefix(out, before+": ") && strings.HasSuffix(out, after), "%s\n%s", name, out)
				want := decoded(t, src)
				set(want, strings.Split(field.Path, "."), valueIn(decoded(t, out), strings.Split(field.Path, ".")))
				assert.Equal(t, want, decoded(t, out), name)
				assert.Equal(t, now, next.Value(field.Path), name)

				// Emptied: everything else is there, in its order.
				next, err = f.SetLeaf(field.Path, "")
				require.NoError(t, err, name)
				out = string(next.Bytes())
				want = decoded(t, src)
				if field.Path == "symptoms" {
					want["symptoms"] = []any{}
				} else {
					without(want, strings.Split(field.Path, "."))
				}
				assert.Equal(t, want, decoded(t, out), "%s\n%s", name, out)
				at := 0
				for line := range strings.Lines(src) {
					if strings.Contains(line, old) || strings.TrimSpace(line) == field.Key()+":" {
						continue
					}
					i := strings.Index(out[at:], strings.TrimSpace(line))
					require.GreaterOrEqual(t, i, 0, "%s lost %q\n%s", name, line, out)
					at += i
				}

				// And back again, beside the others.
				again, err := next.SetLeaf(field.Path, was)
				require.NoError(t, err, name)
				assert.Equal(t, normal(decoded(t, src)), normal(decoded(t, string(again.Bytes()))), name)
			}
		}
	}
}

func set(m map[string]any, path []string, v any) {
	for _, p := range path[:len(path)-1] {
		m = m[p].(map[string]any)
	}
	m[path[len(path)-1]] = v
}

func valueIn(m map[string]any, path []string) any {
	for _, p := range path[:len(path)-1] {
		m = m[p].(map[string]any)
	}
	return m[path[len(path)-1]]
}

// normal prints values, since a text and a number that look alike are the same
// answer to a person.
func normal(v any) string {
	switch x := v.(type) {
	case map[string]any:
		var out []string
		for _, k := range slices.Sorted(maps.Keys(x)) {
			out = append(out, k+"="+normal(x[k]))
		}
		return "{" + strings.Join(out, ";") + "}"
	case []any:
		var out []string
		for _, e := range x {
			out = append(out, normal(e))
		}
		return "[" + strings.Join(out, ",") + "]"
	}
	return fmt.Sprint(v)
}

// TestLeafRefusals: what is no value of the leaf is said, and nothing changes.
func TestLeafRefusals(t *testing.T) {
	f, _ := Parse("2026-0777.md", []byte(fullCase("flow", "id")))
	for path, bad := range map[string]string{"minutes.repair": "ten", "cost.parts": "a lot", "cost.charged": "-1",
		"opened": "yesterday", "title": "two\nlines", "nothing.such": "x", "fasteners.in": "1.5", "photos": "x.jpg"} {
		_, err := f.SetLeaf(path, bad)
		assert.Error(t, err, path)
	}
	next, err := f.SetLeaf("cost.parts", "1,25")
	require.NoError(t, err)
	assert.Contains(t, string(next.Bytes()), "cost: {parts: 1.25, charged: 47.5} # about cost")
	next, err = f.SetLeaf("device.kind", "lamp") // a device by its kind takes the place of one by its id
	require.NoError(t, err)
	assert.Contains(t, string(next.Bytes()), "device: {kind: lamp} # about device")
}

// TestPhotosByLeaf: what is not changed of the pictures stays as it is written.
func TestPhotosByLeaf(t *testing.T) {
	src := fullCase("block", "id")
	f, _ := Parse("2026-0777.md", []byte(src))
	photos := func(edit func(list []Photo) []Photo) string {
		var list []Photo
		for _, p := range f.Case.Photos {
			p.Marks = slices.Clone(p.Marks)
			list = append(list, p)
		}
		next, err := f.SetPhotos(edit(list))
		require.NoError(t, err)
		return string(next.Bytes())
	}
	assert.Equal(t, strings.Replace(src, "The back", "The other side", 1),
		photos(func(l []Photo) []Photo { l[1].Caption = "The other side"; return l }))
	assert.Equal(t, strings.Replace(src, "    compare: ring.jpg\n", "", 1), photos(func(l []Photo) []Photo { l[1].Compare = ""; return l }))
	assert.Equal(t, strings.Replace(src, "label: here", "label: there", 1),
		photos(func(l []Photo) []Photo { l[0].Marks[0].Label = "there"; return l }))
	assert.Equal(t, strings.Replace(src, "    compare: ring.jpg\n",
		"    compare: ring.jpg\n  - {file: new.jpg, caption: Anew}\n", 1),
		photos(func(l []Photo) []Photo { return append(l, Photo{File: "new.jpg", Caption: "Anew"}) }))
	out := photos(func(l []Photo) []Photo { return l[1:] })
	assert.NotContains(t, out, "ring.jpg, caption")
	assert.Contains(t, out, "    # taken late\n")
	assert.Equal(t, strings.Count(src, "#")-1, strings.Count(out, "#"), "only the comment of the photo that is gone")
	out = photos(func(l []Photo) []Photo { l[0], l[1] = l[1], l[0]; return l })
	assert.Less(t, strings.Index(out, "back.jpg"), strings.Index(out, "The ring"))
	assert.NotContains(t, photos(func([]Photo) []Photo { return nil }), "photos:")
}

// FuzzSetLeaf: whatever the front matter looks like, an edit of one leaf changes
// that leaf or is refused.
func FuzzSetLeaf(f *testing.F) {
	for _, style := range []string{"flow", "flow over lines", "block"} {
		f.Add(fullCase(style, "id"), "cost.parts", "3")
		f.Add(fullCase(style, "in place"), "device.model", "")
	}
	f.Add("---\ncost: {charged: , parts: 1}\n---\n", "cost.charged", "")
	f.Add("---\ncost: {parts}\n---\n", "cost.charged", "2")
	f.Add("---\nminutes: {repair: \"1\" , }\n---\n", "minutes.diagnosis", "2")
	f.Fuzz(func(t *testing.T, src, path, value string) {
		file, _ := Parse("x.md", []byte(src))
		if file == nil {
			return
		}
		next, err := file.SetLeaf(path, value)
		if err != nil {
			return
		}
		before, after := map[string]any{}, map[string]any{}
		_ = yaml.Unmarshal(file.Text.Bytes[file.yamlStart:file.yamlStop], &before)
		_ = yaml.Unmarshal(next.Text.Bytes[next.yamlStart:next.yamlStop], &after)
		head, _, _ := strings.Cut(path, ".")
		delete(before, head)
		delete(after, head)
		if normal(before) != normal(after) {
			t.Fatalf("other keys changed\n%q\n%q", src, next.Bytes())
		}
	})
}

// TestIntake writes what was taken down at the counter, reads it back, and takes it out
// again; what is not written by it stays, and nothing of it is public.
func TestIntake(t *testing.T) {
	const head, rest = "---\ncase: 2026-0001\ntitle: Lamp dark\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker] # all day\n",
		"---\n## Symptom\n\nDark.\n"
	const words = "It \"went\" dark, {twice}: #1\nand again"
	for name, private := range map[string]string{"none": "", "a note beside it": "private: {till: drawer 3}\n",
		"over lines": "private:\n  till: drawer 3 # left\n", "empty": "private:\n", "begun": "private: {intake: {data: may be looked at}}\n"} {
		t.Run(name, func(t *testing.T) {
			src := head + private + rest
			f, list := Parse("2026-0001.md", []byte(src))
			require.Empty(t, list)
			for _, x := range Intake {
				next, err := f.SetLeaf(x.Path, words)
				require.NoError(t, err, x.Path)
				assert.Equal(t, words, next.Value(x.Path))
				f = next
			}
			assert.Equal(t, strings.Contains(private, "drawer 3"), f.Value("private.till") == "drawer 3")
			public, err := Public(f.Bytes())
			require.NoError(t, err)
			assert.NotContains(t, string(public), "went")
			assert.Contains(t, string(public), "symptoms: [flicker] # all day\n")
			for _, x := range Intake {
				f, err = f.SetLeaf(x.Path, "")
				require.NoError(t, err, x.Path)
			}
			assert.NotContains(t, string(f.Bytes()), "went")
			assert.Equal(t, strings.Contains(private, "drawer 3"), strings.Contains(string(f.Bytes()), "drawer 3"))
		})
	}
	for name, private := range map[string]string{"text": "private: ask for the key\n", "list": "private: [ask, wait]\n",
		"intake as text": "private: {intake: came by post}\n"} {
		t.Run("refused: "+name, func(t *testing.T) {
			f, list := Parse("2026-0001.md", []byte(head+private+rest))
			require.Empty(t, list)
			for _, text := range []string{words, ""} {
				_, err := f.SetLeaf("private.intake.words", text)
				require.ErrorContains(t, err, "holds something else already")
			}
		})
	}
}
