package casefile

import "strings"

// Slug makes an id of lower-case words joined by hyphens from a text.
func Slug(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(r)
		default:
			if plain, ok := ascii[r]; ok {
				if gap && b.Len() > 0 {
					b.WriteByte('-')
				}
				gap = false
				b.WriteString(plain)
			} else {
				gap = true
			}
		}
		if b.Len() >= 60 {
			break
		}
	}
	return b.String()
}

// ascii spells common letters with marks in ASCII, for file names that every
// file system takes.
var ascii = map[rune]string{'ä': "ae", 'ö': "oe", 'ü': "ue", 'ß': "ss", 'é': "e", 'è': "e", 'ê': "e", 'ë': "e",
	'à': "a", 'â': "a", 'á': "a", 'å': "a", 'ç': "c", 'ñ': "n", 'ô': "o", 'ó': "o", 'ø': "o", 'î': "i", 'ï': "i",
	'í': "i", 'ú': "u", 'û': "u", 'ù': "u", 'æ': "ae", 'œ': "oe"}
