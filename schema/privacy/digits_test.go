package privacy

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// allowedMarks are what people and their programs put between the digits of one number:
// spaces of several widths, hyphens and dashes, slashes, dots.
var allowedMarks = []string{" ", "\u00a0", "\u2009", "\u202f", "-", "\u2010", "\u2011", "\u2013", "\u2043", "\u2212", "/", "\u2044", "\u2215", ".", "·", "\u2022", "\u2024", "\u2027", "\u2219", "\u22c5", "\u2007"}

// checkDigit is the digit that ISO/IEC 7812-1 annex B adds to others, worked out from its
// table of doubled digits and not by the scan's own way.
func checkDigit(digits string) byte {
	doubled := [10]int{0, 2, 4, 6, 8, 1, 3, 5, 7, 9}
	sum := 0
	for i := range len(digits) {
		d := int(digits[len(digits)-1-i] - '0')
		if i%2 == 0 {
			d = doubled[d]
		}
		sum += d
	}
	return byte('0' + (10-sum%10)%10)
}

// ibanOf is the IBAN of a country and account: ISO 13616-1, by big numbers.
func ibanOf(country, account string) string {
	var digits strings.Builder
	for _, r := range account + country + "00" {
		if r >= 'A' {
			fmt.Fprint(&digits, int(r-'A')+10)
		} else {
			digits.WriteRune(r)
		}
	}
	n, _ := new(big.Int).SetString(digits.String(), 10)
	return fmt.Sprintf("%s%02d%s", country, 98-n.Mod(n, big.NewInt(97)).Int64(), account)
}

func randomDigits(r *rand.Rand, n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte('0' + r.IntN(10))
	}
	return string(b)
}

// foundAs reports whether anything in a text is found to be of a kind.
func foundAs(t *testing.T, text string, k Kind) bool {
	t.Helper()
	for _, f := range Scan([]byte(text)) {
		if f.Kind == k {
			return true
		}
	}
	return false
}

// changes calls with a text in which one digit is another, for each digit.
func changes(text string, with func(string)) {
	for i := range len(text) {
		if !digit(text[i]) {
			continue
		}
		for d := byte('0'); d <= '9'; d++ {
			if d != text[i] {
				with(text[:i] + string(d) + text[i+1:])
			}
		}
	}
}

// TestOneDigitIsChecked: a card or an IBAN with any one digit changed is none any more,
// which both check digits promise, and whole it is one.
func TestOneDigitIsChecked(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 40 {
		body := fmt.Sprint(2+r.IntN(5)) + randomDigits(r, 14)
		text := body + string(checkDigit(body))
		require.True(t, foundAs(t, text, cardKind), text)
		changes(text, func(s string) {
			assert.False(t, foundAs(t, s, cardKind), s)
			assert.False(t, foundAs(t, "card "+s, cardKind), s)
		})
		for _, iban := range []string{
			ibanOf("DE", randomDigits(r, 18)), ibanOf("FR", randomDigits(r, 20)+"M02"), ibanOf("GB", "ZZZZ"+randomDigits(r, 14)),
			ibanOf("NO", randomDigits(r, 11)), ibanOf("AT", randomDigits(r, 16)), ibanOf("MT", "ZZZZ"+randomDigits(r, 23)),
		} {
			require.True(t, foundAs(t, iban, ibanKind), iban)
			changes(iban, func(s string) { assert.False(t, foundAs(t, s, ibanKind), s) })
		}
	}
}

// grouped is a text with marks between some of its characters, as with says.
func grouped(r *rand.Rand, text string, mark func() string) string {
	var b strings.Builder
	for i := range len(text) {
		if i > 0 && r.IntN(3) == 0 {
			b.WriteString(mark())
		}
		b.WriteByte(text[i])
	}
	return b.String()
}

// TestEveryGrouping: however the digits are grouped and with whatever marks, what stands
// there is found as it is without any: after a word that says what it is, after a plus, and
// for an IBAN, which says it of itself. In the groups of a card it needs no word.
func TestEveryGrouping(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	some := func() string { return allowedMarks[r.IntN(len(allowedMarks))] }
	same := func(before, text string, k Kind) {
		want := before + text
		assert.Equal(t, fmt.Sprintf("%s:%s", k, text), told(want, Scan([]byte(want))), "%q", want)
	}
	for range 300 {
		for _, word := range []string{"Telefon ", "Rufnummer: ", "Tél. ", "phone "} {
			for _, number := range []string{"07700900123", "03023125123", "0639981234", "017139200" + randomDigits(r, 2)} {
				same(word, number, phoneKind)
				same(word, grouped(r, number, some), phoneKind)
			}
		}
		for _, number := range []string{"442079460123", "493023125123", "33639981234"} {
			for _, m := range []string{" ", "\u00a0", "\u2009", "-", "\u2013", "/"} {
				same("", "+"+grouped(r, number, func() string { return m }), phoneKind)
			}
		}
		body := "4" + randomDigits(r, 14)
		full := body + string(checkDigit(body))
		for _, word := range []string{"Karte ", "carte bancaire ", "card: "} {
			same(word, grouped(r, full, some), cardKind)
		}
		for _, m := range allowedMarks {
			same("", full[:4]+m+full[4:8]+m+full[8:12]+m+full[12:], cardKind)
		}
		iban := ibanOf("DE", randomDigits(r, 18))
		same("", iban[:2]+grouped(r, iban[2:], some), ibanKind)
	}
}

// TestDigitsOfAnyShape: a digit of another script is the digit that a reader sees.
func TestDigitsOfAnyShape(t *testing.T) {
	for _, zero := range []rune{'０', '٠', '۰', '०', '𝟎', '𝟘', '𝟶'} {
		shaped := strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' {
				return zero + r - '0'
			}
			return r
		}, "020 7946 0123")
		assert.Equal(t, "telephone number:"+shaped, told(shaped, Scan([]byte(shaped))))
	}
}

// TestExamplesOfTheRegistry: the examples that the IBAN registry prints for countries, each of the length that
// it gives.
func TestExamplesOfTheRegistry(t *testing.T) {
	for _, iban := range strings.Fields(`AT611904300234573201 BE68539007547034 CH9300762011623852957 DE89370400440532013000
		DK5000400440116243 ES9121000418450200051332 FI2112345600000785 FR1420041010050500013M02606 GB29NWBK60161331926819
		IE29AIBK93115212345678 IT60X0542811101000000123456 LU280019400644750000 NL91ABNA0417164300 NO9386011117947
		PL61109010140000071219812874 PT50000201231234567890154 SE4550000000058398257466 CZ6508000000192000145399
		LI21088100002324013AA MC5811222000010123456789030 HU42117730161111101800000000 SK3112000000198742637541`) {
		assert.Equal(t, "IBAN:"+iban, told(iban, Scan([]byte(iban))))
		longer := iban + "0"
		assert.False(t, foundAs(t, longer, ibanKind), longer)
	}
}

// TestWordsOfEveryLanguage: each language of the pages has words for all that is looked
// for, in small letters, and none means two things.
func TestWordsOfEveryLanguage(t *testing.T) {
	languages := []string{"en"}
	files, err := filepath.Glob(filepath.Join("..", "..", "theme", "messages", "*.yaml"))
	require.NoError(t, err)
	for _, f := range files {
		languages = append(languages, strings.TrimSuffix(filepath.Base(f), ".yaml"))
	}
	require.GreaterOrEqual(t, len(languages), 3)
	have, err := wordFiles.ReadDir("words")
	require.NoError(t, err)
	var names []string
	for i, f := range have {
		names = append(names, strings.TrimSuffix(f.Name(), ".yaml"))
		w := words().languages[i]
		for what, list := range map[string][]string{"phone": w.Phone, "reach": w.Reach, "imei": w.IMEI, "card": w.Card,
			"account": w.Account, "iban": w.IBAN, "network": w.Network, "version": w.Version, "part": w.Part,
			"address": w.Address, "at": w.At, "bare at": w.BareAt, "dot": w.Dot, "streets": w.Streets.Sure} {
			assert.NotEmpty(t, list, "%s %s", f.Name(), what)
			for _, word := range list {
				assert.Equal(t, strings.ToLower(word), word)
				assert.LessOrEqual(t, len(strings.Fields(word)), longestTitle, word)
			}
		}
		assert.Contains(t, []string{"before", "after"}, w.Streets.Number)
	}
	assert.Subset(t, names, languages)
	for word, classes := range words().classes {
		for _, c := range classes {
			assert.Equal(t, classes[0], c, "%s means two things", word)
		}
	}
}
