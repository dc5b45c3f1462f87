package label

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/multi/qrcode"
	single "github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
)

// book is a notebook with one open case, one closed case, and an address.
func book(t *testing.T, address string) *notebook.Notebook {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	settings := "name: Test bench\n"
	if address != "" {
		settings += "site: {address: \"" + address + "\"}\n"
	}
	write("notebook.yaml", settings)
	write("devices/uldra-n8.md", "---\ndevice: uldra-n8\nkind: network-device\nmaker: Uldra\nmodel: N8\nhazards: [mains]\nfasteners: 4\n---\n")
	write("cases/2026/2026-0001-a.md", "---\ncase: 2026-0001\ntitle: Restarts at night\ndevice: uldra-n8\nopened: 2026-02-03\nby: RK\nfasteners: {out: 4}\n---\n## Findings\n\n| check | seen | result |\n|---|---|---|\n| Adapter under load | sags a little | unsure |\n| Fuse | good | clear |\n\n## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n| 3.3 V rail | voltage | on | 3.3 V ±5 % | 3.0 V |\n| 12 V rail | voltage | on | 12 V ±5 % | |\n")
	write("cases/2026/2026-0002-b.md", "---\ncase: 2026-0002\ntitle: Dead\ndevice: uldra-n8\nopened: 2026-02-04\nclosed: 2026-02-05\nsymptoms: [no-power]\ncause: {fault: not-found, at: supply-rail}\noutcome: unknown\n---\n## Symptom\n\nDead.\n")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors(), n.Problems)
	return n
}

func TestWhatStandsOnALabel(t *testing.T) {
	n := book(t, "https://notes.example.org/bench/")
	l, ok := Of(n, "2026-0001")
	require.True(t, ok)
	assert.Equal(t, "2026-0001", l.ID)
	assert.Equal(t, "Uldra N8", l.Title)
	assert.Equal(t, "https://notes.example.org/bench/cases/2026-0001.html", l.Code)
	assert.Equal(t, []string{"in 2026-02-03 RK", "! Mains voltage", "4 fasteners out", "? Adapter under load", "? 3.3 V rail low",
		"? 12 V rail not read", "? cause not known yet"}, l.Lines)
	l, _ = Of(n, "2026-0002")
	assert.Equal(t, []string{"in 2026-02-04, done 2026-02-05", "! Mains voltage", "Dead"}, l.Lines)
	l, _ = Of(n, "uldra-n8")
	assert.Equal(t, "https://notes.example.org/bench/devices/uldra-n8.html", l.Code)
	assert.Equal(t, []string{"2 on record, last 2026-02-05", "! Mains voltage", "4 fasteners", "? 2026-0001 Restarts at night"}, l.Lines)
	f := n.Cases[0].File
	f.Case.Symptoms, f.Case.Hazards = []string{"swollen-battery"}, []string{"sharp-edges"}
	l, _ = Of(n, "2026-0001")
	assert.Equal(t, []string{"in 2026-02-03 RK", "STOP: Swollen cell", "! Mains voltage"}, l.Lines[:3], "the gravest of what device and danger call for")
	_, ok = Of(n, "2026-9999")
	assert.False(t, ok)
	l, _ = Of(book(t, ""), "2026-0001")
	assert.Equal(t, "2026-0001", l.Code, "without an address the code holds the id")
}

func decoded(t *testing.T, img image.Image) string { return read(t, img).GetText() }

func read(t *testing.T, img image.Image) *gozxing.Result {
	t.Helper()
	bmp, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	r, err := single.NewQRCodeReader().Decode(bmp, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	require.NoError(t, err)
	return r
}

// TestCodeIsReadBack draws labels as PNG and reads their codes with another
// library than the one that made them.
func TestCodeIsReadBack(t *testing.T) {
	for _, text := range []string{"2026-0001", "uldra-n8", "https://notes.example.org/bench/cases/2026-0001.html",
		"https://notes.example.org/" + strings.Repeat("a-long-way/", 12) + "cases/2026-0001.html"} {
		for _, s := range []Size{{70, 36}, {38.1, 21.2}, {99.1, 67.7}} {
			var b bytes.Buffer
			require.NoError(t, Write(&b, formatPNG,
				[]Label{{ID: "2026-0001", Title: "Uldra N8",
					Lines: []string{"in 2026-02-03",
						"? Ω and µ and a line that is much too long for the label and is cut"}, Code: text}}, s, nil, 0))
			img, err := png.Decode(&b)
			require.NoError(t, err)
			assert.Equal(t, text, decoded(t, img), "%v", s)
		}
	}
}

// TestAnnexExample: "01234567" in version 1-M, 21 a side, has the data codewords
// of ISO/IEC 18004 annex I.
func TestAnnexExample(t *testing.T) {
	bits, err := Code("01234567")
	require.NoError(t, err)
	assert.Len(t, bits, 21)
	img := image.NewGray(image.Rect(0, 0, 8*(21+8), 8*(21+8)))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for r, row := range bits {
		for c, dark := range row {
			for i := range 64 {
				if dark {
					img.Pix[(8*(r+4)+i/8)*img.Stride+8*(c+4)+i%8] = 0
				}
			}
		}
	}
	r := read(t, img)
	assert.Equal(t, "01234567", r.GetText())
	assert.Equal(t, []byte{0x10, 0x20, 0x0C, 0x56, 0x61, 0x80, 0xEC, 0x11, 0xEC, 0x11, 0xEC, 0x11, 0xEC, 0x11, 0xEC, 0x11}, r.GetRawBytes())
}

// TestSheet reads every code of a sheet back and finds it where its label is.
func TestSheet(t *testing.T) {
	for _, name := range GridNames() {
		g := Grids[name]
		require.NoError(t, g.Sheet.check(g.Label), name)
	}
	g := Grids["a4-24"]
	var labels []Label
	for i := range 5 {
		labels = append(labels, Label{ID: fmt.Sprintf("2026-%04d", i+1), Code: fmt.Sprintf("2026-%04d", i+1)})
	}
	var b bytes.Buffer
	require.NoError(t, Write(&b, formatPNG, labels, g.Label, &g.Sheet, 2))
	img, err := png.Decode(&b)
	require.NoError(t, err)
	assert.Equal(t, 210*dotsPerMM, img.Bounds().Dx())
	bmp, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	found, err := qrcode.NewQRCodeMultiReader().DecodeMultiple(bmp, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	require.NoError(t, err)
	at := map[string][2]int{}
	for _, r := range found {
		p := r.GetResultPoints()[1] // the finder of the upper left
		at[r.GetText()] = [2]int{int(p.GetX() / dotsPerMM / 70), int((p.GetY()/dotsPerMM - 0.5) / 37)}
	}
	assert.Equal(t, map[string][2]int{"2026-0001": {2, 0}, "2026-0002": {0, 1}, "2026-0003": {1, 1},
		"2026-0004": {2, 1}, "2026-0005": {0, 2}}, at)
}

func TestFormats(t *testing.T) {
	labels := []Label{{ID: "2026-0001", Title: "<b>Uldra</b> & N8", Code: "2026-0001"}, {ID: "2026-0002", Code: "2026-0002"}}
	var b bytes.Buffer
	require.NoError(t, Write(&b, formatSVG, labels[:1], Size{70, 36}, nil, 0))
	assert.Contains(t, b.String(), `width="70mm" height="36mm" viewBox="0 0 70 36"`)
	assert.Contains(t, b.String(), "<title>2026-0001\n&lt;b&gt;Uldra&lt;/b&gt; &amp; N8</title>")
	assert.NotContains(t, b.String(), "<b>")
	var again bytes.Buffer
	require.NoError(t, Write(&again, formatSVG, labels[:1], Size{70, 36}, nil, 0))
	assert.Equal(t, b.String(), again.String(), "equal labels give equal bytes")
	b.Reset()
	require.NoError(t, Write(&b, formatPDF, labels, Size{70, 36}, nil, 0))
	assert.Regexp(t, `/MediaBox ?\[ ?0 0 198\.4\d* 102\.0\d* ?\]`, b.String(), "70 × 36 mm in points")
	assert.Len(t, regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(b.Bytes(), -1), 2)
	pdf := b.String()
	b.Reset()
	require.NoError(t, Write(&b, formatPDF, labels, Size{70, 36}, nil, 0))
	assert.Equal(t, pdf, b.String(), "equal labels give equal bytes")
	assert.ErrorContains(t, Write(&b, formatPNG, labels, Size{70, 36}, nil, 0), "2 pages are needed")
	assert.ErrorContains(t, Write(&b, formatPNG, labels, Size{7, 3}, nil, 0), "a label is 20 × 8 mm at least")
	assert.ErrorContains(t, Write(&b, formatPDF, labels, Size{70, 36},
		&Sheet{Paper: Papers["a4"], Columns: 4, Rows: 8}, 0), "need 280.0 × 288.0 mm")
	assert.ErrorContains(t, Write(&b, formatPDF, labels, Size{70, 36},
		&Sheet{Paper: Papers["a4"], Columns: 3, Rows: 8}, 24), "cannot be left free")
	for name, want := range map[string]Format{"a.svg": formatSVG, "A.PNG": formatPNG, "x.y.pdf": formatPDF} {
		f, err := FormatOf(name)
		assert.NoError(t, err)
		assert.Equal(t, want, f)
	}
	_, err := FormatOf("label.jpg")
	assert.ErrorIs(t, err, errFormat)
}
