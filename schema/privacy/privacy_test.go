package privacy

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Numbers in this file are from documentation ranges or published examples:
// e-mail RFC 2606, telephone the drama range of the United Kingdom's regulator
// and 555-01xx, MAC RFC 7042, IMEI 3GPP TS 23.003 annex B, card the widely
// printed test number.
func TestScanFinds(t *testing.T) {
	for text, want := range map[string]string{
		"write to a.b@example.com, please": "e-mail address:a.b@example.com",
		"<owner+fix@mail.example.org>":     "e-mail address:owner+fix@mail.example.org",
		"call +44 20 7946 0000 after six":  "telephone number:+44 20 7946 0000",
		"+442079460000":                    "telephone number:+442079460000",
		"(020) 7946 0000":                  "telephone number:(020) 7946 0000",
		"020 7946 0000":                    "telephone number:020 7946 0000",
		"mobile 07700 900123":              "telephone number:07700 900123",
		"phone: 555-010-0199":              "telephone number:555-010-0199",
		"ring 02079460000":                 "telephone number:02079460000",
		"IMEI 490154203237518":             "IMEI:490154203237518",
		"49-015420-323751-8":               "IMEI:49-015420-323751-8",
		"001013001234568":                  "IMEI:001013001234568",
		"card 4111 1111 1111 1111":         "payment card number:4111 1111 1111 1111",
		"4111111111111111":                 "payment card number:4111111111111111",
		"eth0 00-00-5E-00-53-01 up":        "MAC address:00-00-5E-00-53-01",
		"00:00:5e:00:53:ff":                "MAC address:00:00:5e:00:53:ff",
		"0000.5e00.5301":                   "MAC address:0000.5e00.5301",
		"020.7946.0000":                    "telephone number:020.7946.0000",
		"+44.20.7946.0000":                 "telephone number:+44.20.7946.0000",
		"555.010.0199":                     "telephone number:555.010.0199",
		"IMEI490154203237518":              "IMEI:490154203237518",
		"020\u00a07946\u00a00000":          "telephone number:020\u00a07946\u00a00000",
		"020\u202f7946\u20110000":          "telephone number:020\u202f7946\u20110000",
		"０２０ ７９４６ ００００":                    "telephone number:０２０ ７９４６ ００００",
		"a.b＠example．com":                  "e-mail address:a.b＠example．com",
		"a.b&#64;example&period;com":       "e-mail address:a.b&#64;example&period;com",
		`"a.b\x40example.com"`:             `e-mail address:a.b\x40example.com`,
		`a.b\@example.com`:                 `e-mail address:a.b\@example.com`,
		`020 79\u00346 0000`:               `telephone number:020 79\u00346 0000`,
		"IMEI 𝟜𝟡𝟘𝟙𝟝𝟜𝟚𝟘𝟛𝟚𝟛𝟟𝟝𝟙𝟠": "IMEI:𝟜𝟡𝟘𝟙𝟝𝟜𝟚𝟘𝟛𝟚𝟛𝟟𝟝𝟙𝟠",
		"49\u200b0154203237518":                 "IMEI:49\u200b0154203237518",
		"٤٩٠١٥٤٢٠٣٢٣٧٥١٨":                       "IMEI:٤٩٠١٥٤٢٠٣٢٣٧٥١٨",
		"two: a@example.com and b@example.net.": "e-mail address:a@example.com e-mail address:b@example.net",
	} {
		var got []string
		for _, f := range Scan([]byte(text)) {
			got = append(got, fmt.Sprintf("%s:%s", f.Kind, text[f.Start:f.Stop]))
		}
		assert.Equal(t, want, strings.Join(got, " "), text)
	}
}

func TestScanLeavesAlone(t *testing.T) {
	for _, text := range []string{
		"4K7 104K 2512 0402 0603 0805", "0402 0603 0805 1206", "2026-0031", "2026-03-04 2026-03-05", "1996-12-19T16:39:57-08:00",
		"0.5 V 3.31 V 100 nF 16 V X7R", "R47F", "490154203237519", "15 digits 123456789012345", "a..b@example.com", "@x", "a@b",
		"00-00-5E-00-53", "00-00-5E-00-53-01-02", "order 4711-0815", "10 000 000", "1000000 cycles", "00000010  12 34 56 78 9a bc de f0",
		"2N3904 LM317 74HC595", "v1.2.3.4", "192.0.2.1", "firmware 198.51.100.200", "v01.02.03", "2026.11.26", "01.02.2026",
		"&amp; 10&nbsp;000&nbsp;000", `C:\new\u00e9t`, "IMEI", "R１００", "quaystreet_1690", "12345678.90 EUR",
		"±(0.5 % + 3)", "0,47 µF", "10 × 35 mm",
		"1.5..4 V", "part 600-00123-45", "80 000 turns", "2026-0029 2026-0031 2026-0032", "4111 1111 1111 1112", "20260101 20260102",
	} {
		assert.Empty(t, Scan([]byte(text)), text)
	}
}

// TestLuhn checks ISO/IEC 7812-1 annex B's algorithm on the published number.
func TestLuhn(t *testing.T) {
	for i := range 10 {
		assert.Equal(t, i == 3, luhn(fmt.Sprintf("7992739871%d", i)))
	}
	assert.True(t, luhn("49927398716"))
	assert.True(t, luhn("490154203237518"))
	assert.False(t, luhn("490154203237519"))
	assert.False(t, luhn(""))
	assert.False(t, luhn("0"))
}

func FuzzScan(f *testing.F) {
	f.Add([]byte("a.b@example.com +44 20 7946 0000 00-00-5E-00-53-01"))
	f.Add([]byte("&#x34;9&Tab;\\u0030\\x30\\(𝟜＠\u200b\xff&#0;&#99999999;"))
	f.Add([]byte("((((((((((0 0 0 0 0 0 0 0 0 0 0 0"))
	f.Fuzz(func(t *testing.T, text []byte) {
		last := 0
		for _, found := range Scan(text) {
			if found.Start < last || found.Stop <= found.Start || found.Stop > len(text) {
				t.Fatalf("%+v after %d", found, last)
			}
			last = found.Stop
		}
	})
}

// BenchmarkScan reads every case of the example's notebook.
func BenchmarkScan(b *testing.B) {
	var texts [][]byte
	size := 0
	require.NoError(b, filepath.WalkDir(filepath.Join("..", "..", "cases", "notebook"), func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || filepath.Ext(path) != ".md" {
			return err
		}
		text, err := os.ReadFile(path)
		texts, size = append(texts, text), size+len(text)
		return err
	}))
	b.SetBytes(int64(size))
	for b.Loop() {
		for _, text := range texts {
			Scan(text)
		}
	}
}
