package schema

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAgainstMetaSchema validates the published schemas against the JSON
// Schema 2020-12 meta-schema, which the library carries.
func TestAgainstMetaSchema(t *testing.T) {
	const meta = "https://json-schema.org/draft/2020-12/schema"
	compiled, err := jsonschema.NewCompiler().Compile(meta)
	require.NoError(t, err)
	files, err := filepath.Glob("*.schema.json")
	require.NoError(t, err)
	require.Len(t, files, 4)
	for _, name := range files {
		src, err := os.ReadFile(name)
		require.NoError(t, err)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
		require.NoError(t, err, name)
		assert.NoError(t, compiled.Validate(doc), name)
		assert.Equal(t, meta, doc.(map[string]any)["$schema"], name)
	}
	// The meta-schema does find fault: a test that can fail.
	assert.Error(t, compiled.Validate(map[string]any{"type": "strnig"}))
}

func TestValidate(t *testing.T) {
	ok := `{"case":"2026-0001","title":"T","device":"lamp-x","opened":"2026-01-02","symptoms":[]}`
	for _, test := range []struct {
		name, edit string
		path       []string
		key        string
	}{
		{"valid", `{}`, nil, ""},
		{"unknown key", `{"colour":1}`, []string{}, "colour"},
		{"date", `{"opened":"2026-13-01"}`, []string{"opened"}, ""},
		{"deep", `{"photos":[{"file":"a.jpg","caption":"c","marks":[{"x":2,"y":0,"label":"l"}]}]}`,
			[]string{"photos", "0", "marks", "0", "x"}, ""},
		{"device", `{"device":{"kind":"lamp","colour":"red"}}`, []string{"device"}, "colour"},
		{"device word", `{"device":"Not A Slug"}`, []string{"device"}, ""},
		{"device list", `{"device":[]}`, []string{"device"}, ""},
		{"duplicate", `{"symptoms":["hum","hum"]}`, []string{"symptoms"}, ""},
		{"barrier alone", `{"barrier":"lack-of-equipment"}`, []string{}, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			var doc map[string]any
			require.NoError(t, json.Unmarshal([]byte(ok), &doc))
			require.NoError(t, json.Unmarshal([]byte(test.edit), &doc))
			got := Case().Validate(any(doc))
			if test.path == nil {
				assert.Empty(t, got)
				return
			}
			require.NotEmpty(t, got)
			assert.Equal(t, test.path, append([]string{}, got[0].Path...))
			assert.Equal(t, test.key, got[0].Key)
			assert.NotEmpty(t, got[0].Message)
			assert.NotEmpty(t, got[0].Rule.Help())
		})
	}
}
