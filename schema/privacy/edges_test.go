package privacy

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestCardsOfEachLength: ISO/IEC 7812-1 has cards of up to 19 digits, and none that are in use
// has fewer than 13; an IMEI has 15 (3GPP TS 23.003), as some cards do that are called so.
// Shorter and longer rows of digits are none.
func TestCardsOfEachLength(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for n := 12; n <= 20; n++ {
		for range 20 {
			body := "4" + randomDigits(r, n-2)
			text := body + string(checkDigit(body))
			assert.Equal(t, n >= 13 && n <= 19 && n != 15, foundAs(t, text, cardKind), "%d digits: %s", n, text)
			assert.Equal(t, n == 15, foundAs(t, text, imeiKind), "%d digits: %s", n, text)
			assert.Equal(t, n >= 13 && n <= 19, foundAs(t, "card "+text, cardKind), "%d digits after the word: %s", n, text)
		}
	}
	// What begins with 2 to 6 is a card without a word; others are serial numbers as often.
	for first := '0'; first <= '9'; first++ {
		body := string(first) + randomDigits(r, 14)
		text := body + string(checkDigit(body))
		assert.Equal(t, first >= '2' && first <= '6', foundAs(t, "no. "+text, cardKind), text)
	}
}

// TestGroupsAndBrackets: numbers in odd company. The numbers are those of forms_test.go.
func TestGroupsAndBrackets(t *testing.T) {
	for text, want := range map[string]string{
		// IMEIs in their groups and in others (3GPP TS 23.003).
		"490154 20 323751 8": "IMEI:490154 20 323751 8",
		"49-015420-323751-8": "IMEI:49-015420-323751-8",
		"490154 203237518":   "",
		// A long number among others is found by itself.
		"100 4111111111111111 7":   "payment card number:4111111111111111",
		"100 4111111111111112 7":   "",
		"(4111111111111111) 12 34": "payment card number:4111111111111111",
		"(4111 1111 1111 1111)":    "payment card number:4111 1111 1111 1111",
		"(490154203237518)":        "IMEI:490154203237518",
		"(4111 1111 1111 1112)":    "",
		// Plus and international numbers end where another one begins.
		"+44 20 7946 0000 +44 20 7946 0001": "telephone number:+44 20 7946 0000 telephone number:+44 20 7946 0001",
		"+4420794600":                       "telephone number:+4420794600",
		"+442079":                           "",
		"+4420794":                          "telephone number:+4420794",
		"+123456789012345":                  "telephone number:+123456789012345",
		"+1234567890123456":                 "",
		"+0123456789":                       "",
		"+12.345.678":                       "",
		"+12.34.56.78":                      "telephone number:+12.34.56.78",
		// Two spaces, or the end of a sentence, part two numbers.
		"Tel. 020 7946 0000  020 7946 0001": "telephone number:020 7946 0000 telephone number:020 7946 0001",
		// A dump of bytes is none, however it is cut.
		"06 39 98 12 34 0a": "", "0a 06 39 98 12 34": "",
		// Saying at and dot.
		"sam [at] example.com":                   "e-mail address:sam [at] example.com",
		"sam (at) example dot com":               "e-mail address:sam (at) example dot com",
		"sam at example.com or so":               "",
		"x@example.com":                          "e-mail address:x@example.com",
		"@example.com":                           "",
		"'x@example.com'":                        "e-mail address:x@example.com",
		strings.Repeat("a", 64) + "@example.com": "e-mail address:" + strings.Repeat("a", 64) + "@example.com",
		strings.Repeat("a", 65) + "@example.com": "",
		"Z@example.com":                          "e-mail address:Z@example.com",
		// Ports, and addresses of networks at the beginning and the end of a line.
		"IP 203.0.113.5:80": "network address:203.0.113.5",
		"203.0.113.5.":      "network address:203.0.113.5",
		"[2001:db8::1]":     "network address:2001:db8::1",
		"IP 0.0.113.205":    "",
		"IP 223.0.113.5":    "network address:223.0.113.5",
		// Streets and postcodes at the beginning of a line, with and without a country.
		"Musterstraße 1\nD-12345 Ort":  "address:Musterstraße 1\nD-12345 Ort",
		"Musterstraße 1\nL-1234 Ort":   "address:Musterstraße 1\nL-1234 Ort",
		"Musterstraße 1\n123456 Ort":   "",
		"Musterstraße 1234, 12345 Ort": "address:Musterstraße 1234, 12345 Ort",
		"Musterstraße 4a, 12345 Ort":   "address:Musterstraße 4a, 12345 Ort",
		"Musterstraße 4ab, 12345 Ort":  "",
		"12 Mill Lane\nEC1A 1BB":       "address:12 Mill Lane\nEC1A 1BB",
		"12 Mill Lane\nM1 1AE":         "address:12 Mill Lane\nM1 1AE",
		"12 Mill Lane\nABCDE1 1AE":     "",
		"Musterweg 1\nD-12345 Ort":     "address:Musterweg 1\nD-12345 Ort",
		// What is said in part, at the end or the beginning of a line, is nothing.
		"sam at example dot": "",
		"at) example.com":    "",
		// Codes of packages beside slashes, and a single digit after a bracket.
		"0603/0805/1234":   "",
		"0201/4710 123":    "telephone number:0201/4710 123",
		"(020) 7 946 0000": "telephone number:(020) 7 946 0000",
		// Small letters after the word, z among them.
		"IBAN cz6508000000192000145399": "IBAN:cz6508000000192000145399",
		// An account's number has at most 12 digits here, and letters A and Z end an IBAN as others do.
		"Kontonummer 123456789012": "bank account number:123456789012",
	} {
		assert.Equal(t, want, told(text, Scan([]byte(text))), "%q", text)
	}
}
