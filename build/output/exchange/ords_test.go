package exchange

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/schema/terms"
)

var header = strings.Join(ordsHeader, ",")

// run imports CSV text into a fresh notebook and returns it with what was said.
func run(t testing.TB, text string) (string, Summary, []BadRow) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "book")
	_, err := notebook.Begin(dir, "Open records", false)
	require.NoError(t, err)
	var bad []BadRow
	sum, err := ImportORDS(context.Background(), strings.NewReader(text), dir, terms.Builtin(), Options{},
		func(b BadRow) { bad = append(bad, b) })
	require.NoError(t, err)
	return dir, sum, bad
}

func export(t testing.TB, dir string) [][]string {
	t.Helper()
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	var b bytes.Buffer
	_, err = ExportORDS(&b, n, false)
	require.NoError(t, err)
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	return rows
}

// byID compares two tables whatever their order.
func byID(rows [][]string) map[string][]string {
	m := map[string][]string{}
	for _, r := range rows[1:] {
		m[r[0]] = r
	}
	return m
}

// roundTrip imports a file, exports it, and compares every field.
func roundTrip(t *testing.T, text string) {
	t.Helper()
	dir, sum, bad := run(t, text)
	assert.Empty(t, bad)
	in, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(text, "\ufeff"))).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, len(in)-1, sum.Written)
	out := export(t, dir)
	assert.Equal(t, ordsHeader, out[0][:len(ordsHeader)])
	assert.Equal(t, byID(in), byID(out))
}

func TestRoundTripFixture(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "open-repair.csv"))
	require.NoError(t, err)
	roundTrip(t, string(text))
}

// TestRoundTripSample runs on the Open Repair Alliance's data, where the sample
// lies beside the checkout.
func TestRoundTripSample(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "shared", "ords", "open-repair-sample.csv"))
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("the open repair sample is not beside the checkout")
	}
	require.NoError(t, err)
	dir, sum, bad := run(t, string(text))
	assert.Empty(t, bad)
	assert.Equal(t, 2533, sum.Rows)
	assert.Equal(t, 2533, sum.Written)
	share := float64(sum.LongSymptom) / float64(sum.LongText)
	t.Logf("%d of %d rows with 20 characters or more got a symptom: %.1f %%", sum.LongSymptom, sum.LongText, 100*share)
	assert.GreaterOrEqual(t, share, 0.6)
	in, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(text), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	out := export(t, dir)
	assert.Equal(t, byID(in), byID(out))
	// Counts published with the sample: Fixed 1171, Repairable 562, End of life 423, Unknown 377.
	count := map[string]int{}
	for _, r := range out[1:] {
		count[r[9]]++
	}
	assert.Equal(t, map[string]int{"Fixed": 1171, "Repairable": 562, "End of life": 423, "Unknown": 377}, count)
}

func row(cells ...string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(cells)
	w.Flush()
	return b.String()
}

// good is a row with the given id, barrier and problem.
func good(id, status, barrier, problem string) string {
	return row(id, "Harbour Fixers", "IRL", "kettle", "Kettle", "14", "Unknown", "2009", "11", status, barrier,
		"Harbour", "2024-02-29", problem)
}

func TestOddRows(t *testing.T) {
	t.Run("survive", func(t *testing.T) {
		roundTrip(t, "\ufeff"+header+"\n"+
			good("a_1", "Fixed", "", "Won't turn on, says \"no\".\nSecond line\n\n# third | 1. <b>\n")+
			good("a_2", "End of life", "Item too worn out", "Ne marche pas; 電源が入らない; не включается")+
			good("a_3", "End of life", "Product too worn out", "old wording of the barrier")+
			good("a_4", "End of life", "No way to open the product", "")+
			good("a_5", "Fixed", "Lack of equipment", "a barrier where none belongs")+
			good("a_6", "", "", "    four spaces and a tab\tand trailing  ")+
			good("a_7", "3", "6", "codes for words")+
			good("a_8", "Mended", "because", "words that no list has")+
			good("../../evil", "Fixed", "", "an id that is a path")+
			good("9 9", "Fixed", "", "\r\nline ends\r\n\v and a control sign")+
			row("b_1", "", "", "", "Aircon / dehumidifier", "", "", "", "", "Unknown", "", "", "2020-01-01", "\\backslash \\# -- --- ```")+
			row("b_2", "", "", "", "No such category", "99", "", "", "", "Unknown", "", "", "2020-01-01", "---\ncase: x\n---"))
	})
	t.Run("named", func(t *testing.T) {
		dir, sum, bad := run(t, header+"\n"+
			good("a_1", "Fixed", "", "first")+
			good("a_1", "Fixed", "", "again")+
			row("a_2", "P", "IRL", "", "Kettle", "14", "", "", "", "Fixed", "", "", "2023-02-29", "no such day")+
			row("a_3", "P", "IRL", "", "Kettle", "14", "", "", "", "Fixed", "", "", "", "no day")+
			"a_4,too,short\n"+
			good("", "Fixed", "", "no id")+
			"a_5,\"a quote \"inside\" a cell\",x\n"+
			good("a_6", "Fixed", "", "\xff not UTF-8")+
			good("a_7", "Fixed", "", "two\nlines")+
			good("a_8", "Fixed", "", "good again")+
			"a_9,P,IRL,k,Kettle,14,U,,,Fixed,,G,2020-01-01,\"cut off")
		assert.Equal(t, 3, sum.Written)
		assert.Equal(t, 8, sum.Bad)
		assert.Equal(t, sum.Rows, sum.Written+sum.Bad)
		var lines []int
		for _, b := range bad {
			lines = append(lines, b.Line)
			assert.NotEmpty(t, b.Reason)
		}
		assert.Equal(t, []int{3, 4, 5, 6, 7, 8, 9, 13}, lines)
		assert.Len(t, export(t, dir), 4)
	})
	t.Run("again", func(t *testing.T) {
		dir, sum, _ := run(t, header+"\n"+good("a_1", "Fixed", "", "won't turn on"))
		assert.Equal(t, 1, sum.Written)
		assert.Equal(t, 1, sum.WithSymptom)
		files, err := filepath.Glob(filepath.Join(dir, "cases", "*", "*.md"))
		require.NoError(t, err)
		require.Len(t, files, 1)
		sum, err = ImportORDS(context.Background(),
			strings.NewReader(header+"\n"+good("a_1", "Fixed", "", "won't turn on")), dir, terms.Builtin(), Options{}, nil)
		require.NoError(t, err)
		assert.Equal(t, 1, sum.Unchanged)
		require.NoError(t, os.WriteFile(files[0], []byte("edited"), 0o644))
		sum, err = ImportORDS(context.Background(),
			strings.NewReader(header+"\n"+good("a_1", "Fixed", "", "won't turn on")), dir, terms.Builtin(), Options{}, nil)
		require.NoError(t, err)
		assert.Equal(t, 1, sum.Kept, "an edited case is never overwritten")
	})
}

// TestLineBreaksAreKept compares bytes, since a CSV reader would fold them.
func TestLineBreaksAreKept(t *testing.T) {
	rows := "a_1,P,GBR,k,Kettle,14,Unknown,,,Fixed,,G,2024-01-01,\"one\r\ntwo \"\"q\"\"\nthree\"\r\n" +
		"a_2,P,GBR,k,Kettle,14,Unknown,,,Fixed,,G,2024-01-01,plain\r\n" +
		"a_3,P,GBR,\"k\r\n\",Kettle,14,Unknown,,,Fixed,,G,2024-01-01,last"
	dir, sum, bad := run(t, header+"\r\n"+rows)
	assert.Empty(t, bad)
	assert.Equal(t, 3, sum.Written)
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	var out bytes.Buffer
	_, err = ExportORDS(&out, n, false)
	require.NoError(t, err)
	assert.Contains(t, out.String(), "\"one\r\ntwo \"\"q\"\"\nthree\"\n")
	assert.Contains(t, out.String(), ",plain\n")
	assert.Contains(t, out.String(), ",\"k\r\n\",")
	assert.Contains(t, out.String(), ",last\n")
}

func TestNotORDS(t *testing.T) {
	for _, text := range []string{"", "a,b,c\n1,2,3\n", "\"", "# Markdown\n"} {
		_, err := ImportORDS(context.Background(), strings.NewReader(text), t.TempDir(), terms.Builtin(), Options{}, nil)
		assert.ErrorIs(t, err, ErrNotORDS, text)
	}
}

func TestRecordDateIsKept(t *testing.T) {
	dir, _, bad := run(t, header+",record_date\n"+strings.TrimSuffix(good("a_1", "Fixed", "", "x"), "\n")+",2024-03-01\n")
	assert.Empty(t, bad)
	out := export(t, dir)
	assert.Equal(t, recordDate, out[0][14])
	assert.Equal(t, "2024-03-01", out[1][14])
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := ImportORDS(ctx, strings.NewReader(header+"\n"+good("a_1", "Fixed", "", "x")), t.TempDir(), terms.Builtin(), Options{}, nil)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestExportOwnCases(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "book")
	_, err := notebook.Begin(dir, "Harbour Street", false)
	require.NoError(t, err)
	text := "---\ncase: 2026-0001\ntitle: Lamp dark\ndevice: {kind: heater, maker: Velm}\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [no-light]\noutcome: end-of-life\nbarrier: lack-of-equipment\ncause: {fault: wear, at: switch}\n---\n## Symptom\n\nStays *dark*.\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", "2026-0001.md"), []byte(text), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", "2026-0002.md"),
		[]byte("---\ncase: 2026-0002\ntitle: Open\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n"), 0o644))
	out := export(t, dir)
	require.Len(t, out, 2, "open cases are not exported")
	assert.Equal(t, []string{"harbourstreet_2026-0001", "Harbour Street", "", "Room heater", "Small home electrical",
		"28", "Velm", "", "", "End of life",
		"Lack of equipment", "Harbour Street", "2026-01-03", "Stays dark."}, out[1])
}

// TestWhoseCase: a received case leaves as its own workshop's, under the licence that its
// pack stated, and one of which none is known says that.
func TestWhoseCase(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "book")
	_, err := notebook.Begin(dir, "Harbour Street", false)
	require.NoError(t, err)
	for _, from := range []string{"quay", "mole"} {
		text := "---\ncase: " + from + "-2026-0001\nfrom: " + from + "\ntitle: Lamp dark\ndevice: {kind: lamp}\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [no-light]\noutcome: fixed\ncause: {fault: wear, at: switch}\n---\n## Symptom\n\nDark.\n"
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", from+"-2026-0001.md"), []byte(text), 0o644))
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, "received"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "received", "quay.json"),
		[]byte(`{"origin": {"id": "quay", "name": "Quay Repairs"}, "licence": "CC BY-NC-SA 4.0", "files": {}}`), 0o644))
	out := export(t, dir)
	require.Len(t, out, 3)
	assert.Equal(t, []string{"mole_2026-0001", "mole", ""}, out[1][:3])
	assert.Equal(t, []string{"quayrepairs_2026-0001", "Quay Repairs", ""}, out[2][:3])

	n, err := notebook.Load(dir)
	require.NoError(t, err)
	var table strings.Builder
	require.NoError(t, ExportCSV(&table, n, verdict.New(n)))
	rows, err := csv.NewReader(strings.NewReader(table.String())).ReadAll()
	require.NoError(t, err)
	at := func(row []string, column string) string { return row[slices.Index(rows[0], column)] }
	assert.Equal(t, []string{"mole", "not stated"}, []string{at(rows[1], "source_credit"), at(rows[1], "source_licence")})
	assert.Equal(t, []string{"Quay Repairs", "CC BY-NC-SA 4.0"}, []string{at(rows[2], "source_credit"), at(rows[2], "source_licence")})
	c, ok := n.Case("quay-2026-0001")
	require.True(t, ok)
	assert.Equal(t, &receivedData{"Quay Repairs", "CC BY-NC-SA 4.0"}, DataOf(n, verdict.New(n), c, "").Received)
}

func FuzzImportORDS(f *testing.F) {
	fixture, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "open-repair.csv"))
	require.NoError(f, err)
	f.Add(string(fixture))
	f.Add(header + "\n" + good("a_1", "Fixed", "", "x"))
	f.Add("\ufeff" + header + "\na_1,\"")
	f.Fuzz(func(t *testing.T, text string) {
		dir := t.TempDir()
		bad := 0
		sum, err := ImportORDS(context.Background(), strings.NewReader(text), dir, terms.Builtin(), Options{}, func(b BadRow) { bad++ })
		if err != nil {
			if !errors.Is(err, ErrNotORDS) {
				t.Fatal(err)
			}
			return
		}
		if sum.Rows != sum.Written+sum.Unchanged+sum.Kept+sum.Bad || bad != sum.Bad {
			t.Fatalf("rows are not accounted for: %+v", sum)
		}
		n, err := notebook.Load(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range n.Problems {
			if p.Severity == 2 && p.Rule != "personal-data" && p.Rule != "no-notebook-file" && p.Rule != "id-twice" {
				t.Fatal(p)
			}
		}
	})
}
