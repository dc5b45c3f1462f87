package verdict

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/workshop"
	"benchlore/schema/diagnostic"
)

// closed is a notebook with one kettle, of a class of protection, that was closed as fixed.
func closed(t *testing.T, class, head, body string) []diagnostic.Diagnostic {
	t.Helper()
	if class != "" {
		class = "protection: " + class + "\n"
	}
	if !strings.Contains(head, "outcome:") {
		head += "outcome: fixed\nconfirmed: twenty boils\n"
	}
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n",
		"devices/oke-k1.md": "---\ndevice: oke-k1\nkind: kettle\nmaker: Oke\nmodel: K1\nhazards: [mains]\n" + class + "---\n",
		"cases/2026-0001.md": "---\ncase: 2026-0001\ntitle: T\ndevice: oke-k1\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [no-heat]\nhazards: [mains]\n" +
			"cause: {fault: open-circuit, at: heating-element}\n" + head + "---\n## Symptom\n\nStays cold.\n\n" + body})
	for _, d := range n.Problems {
		require.NotEqual(t, diagnostic.Error, d.Severity, d.String())
	}
	var out []diagnostic.Diagnostic
	for _, d := range New(n).Problems() {
		if d.Rule == diagnostic.StillOut || d.Rule == diagnostic.NoAcceptance {
			out = append(out, d)
		}
	}
	return out
}

const (
	readings = "## Measurements\n\n| point | what | state | expected | read | note | when |\n|---|---|---|---|---|---|---|\n"
	checks   = "## Findings\n\n| check | seen | result | min | when |\n|---|---|---|---|---|\n"
	accepted = "| case to earth pin | resistance | off | < 0.2 Ω | 0.1 Ω | | after |\n| live to case | insulation | 500 V | > 1 MΩ | 120 MΩ | | after |\n"
)

// TestClosingGate: a case closed as fixed is held against its latest rows after the repair.
// Earth, insulation and what protects are errors, everything else a warning.
func TestClosingGate(t *testing.T) {
	for name, c := range map[string]struct {
		body     string
		severity diagnostic.Severity
		says     []string
	}{
		"good":                       {readings + accepted, -1, nil},
		"earth open, no limits":      {readings + "| case to earth pin | resistance | off | | OL | | after |\n| live to case | insulation | 500 V | > 1 MΩ | 120 MΩ | | after |\n", diagnostic.Error, []string{"case to earth pin", "(OL)", "earth is lost"}},
		"earth too high, own limits": {readings + strings.Replace(accepted, "0.1 Ω", "0.9 Ω", 1), diagnostic.Error, []string{"0.9 Ω"}},
		"earth of half an ohm where no limit is stated": {readings + strings.Replace(accepted, "< 0.2 Ω | 0.1 Ω", " | 0.5 Ω", 1), -1, nil},
		"insulation gone, no limits":                    {readings + "| case to earth pin | resistance | off | < 0.2 Ω | 0.1 Ω | | after |\n| live to case | insulation | 500 V | | 0.4 MΩ | | after |\n", diagnostic.Error, []string{"insulation has failed"}},
		"a later row puts it right":                     {readings + "| live to case | insulation | 500 V | > 1 MΩ | 0.2 MΩ | | after |\n" + accepted, -1, nil},
		"and a later one takes it back":                 {readings + accepted + "| live to case | insulation | 500 V | > 1 MΩ | 0.2 MΩ | | after |\n", diagnostic.Error, []string{"0.2 MΩ"}},
		"before the repair it may be out":               {readings + "| live to case | insulation | 500 V | > 1 MΩ | 0.2 MΩ | | before |\n" + accepted, -1, nil},
		"an output":                                     {readings + accepted + "| output | voltage | on | 12 V ±5 % | 11.2 V | | before |\n| output | voltage | on | 12 V ±5 % | 41 V | | after |\n", diagnostic.Warning, []string{"output, voltage, on", "41 V", "11.2 V"}},
		"a fuse's reading":                              {readings + accepted + "| thermal fuse | resistance | off | < 1 Ω | OL | | after |\n", diagnostic.Error, []string{"protects"}},
		"a check that failed":                           {readings + accepted + "\n" + checks + "| Boil from cold | clicks off | fault | 3 | after |\n", diagnostic.Warning, []string{"Boil from cold", "clicks off"}},
		"an earth check that failed":                    {readings + accepted + "\n" + checks + "| Earth of the lid | none | fault | 3 | after |\n", diagnostic.Error, []string{"Earth of the lid"}},
	} {
		t.Run(name, func(t *testing.T) {
			list := closed(t, "I", "", c.body)
			if c.severity < 0 {
				assert.Empty(t, list)
				return
			}
			require.Len(t, list, 1)
			assert.Equal(t, diagnostic.StillOut, list[0].Rule)
			assert.Equal(t, c.severity, list[0].Severity)
			for _, s := range c.says {
				assert.Contains(t, list[0].Message, s)
			}
		})
	}
	assert.Empty(t, closed(t, "I", "outcome: end-of-life\nbarrier: no-way-to-open-product\n", readings+strings.Replace(accepted, "120 MΩ", "0 MΩ", 1)), "nobody said that it was fixed")
}

// TestAcceptance: what a repair on mains must have on record after it, by the class of
// protection (IEC 61140 has the classes; the limits are common practice, no source).
func TestAcceptance(t *testing.T) {
	for name, c := range map[string]struct{ class, head, body, lacks string }{
		"class I, nothing":            {"I", "", "", "no record after it of protective earth, insulation; add"},
		"class I, all":                {"I", "", readings + accepted, ""},
		"class I, no earth":           {"I", "", readings + "| live to case | insulation | 500 V | > 1 MΩ | 120 MΩ | | after |\n", "| case to earth pin | resistance | off | < 0.1 Ω |"},
		"class I, only before":        {"I", "", readings + strings.ReplaceAll(accepted, "after", "before"), "protective earth, insulation"},
		"class I, as checks":          {"I", "", checks + "| Protective earth, lead bent | 0.1 Ω | clear | 2 | after |\n| Insulation at 500 V | 90 MΩ | clear | 2 | after |\n", ""},
		"class II, no insulation":     {"II", "", "", "insulation | 500 V | > 2 MΩ"},
		"class II, insulation":        {"II", "", readings + "| live to shell | insulation | 500 V | > 2 MΩ | 120 MΩ | | after |\n", ""},
		"class III":                   {"III", "", "", ""},
		"class not known":             {"", "", "", "write protection: I, II or III"},
		"class not known, all of it":  {"", "", readings + accepted, ""},
		"class II, nothing confirmed": {"II", "outcome: fixed\n", readings + "| live to shell | insulation | 500 V | > 2 MΩ | 120 MΩ | | after |\n", "function"},
	} {
		t.Run(name, func(t *testing.T) {
			list := closed(t, c.class, c.head, c.body)
			if c.lacks == "" {
				assert.Empty(t, list)
				return
			}
			require.Len(t, list, 1)
			assert.Equal(t, []any{diagnostic.NoAcceptance, diagnostic.Warning}, []any{list[0].Rule, list[0].Severity})
			assert.Contains(t, list[0].Message, c.lacks)
		})
	}
	source := "source: {standard: open-repair-data, provider: Records, id: x_1}\n"
	list := closed(t, "I", source+"outcome: fixed\n", "")
	require.Len(t, list, 1)
	assert.Equal(t, diagnostic.Note, list[0].Severity)
	assert.Contains(t, list[0].Message, "1 imported repair")
}
