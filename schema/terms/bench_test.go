package terms

import "testing"

// BenchmarkCompile says what the first reading of a text in a language costs beside the
// others.
func BenchmarkCompile(b *testing.B) {
	for _, tag := range Reading {
		b.Run(tag, func(b *testing.B) {
			b.ReportAllocs()
			lexiconOf(tag)
			for b.Loop() {
				compile(tag, readClasses)
			}
		})
	}
}

// BenchmarkRead reads four hundred characters, beside telling only what words they have.
func BenchmarkRead(b *testing.B) {
	const text = "The amp hums loudly even with the volume all the way down, no smoke but a faint smell of burning after half an hour. " +
		"Battery was replaced last year and lasts about twenty minutes, the charger gets very hot and the charging port is loose. " +
		"It will not turn on at all now unless you hold the plug at an angle, and the left channel cuts out when it is warm. Please check the fuse and the mains lead too."
	v := In("en")
	b.Run("words", func(b *testing.B) {
		g := grammarOf("en")
		for b.Loop() {
			g.tokens(text)
		}
	})
	b.Run("read", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			v.Read(text)
		}
	})
}
