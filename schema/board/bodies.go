package board

import (
	_ "embed"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"benchlore/schema/quantity"
)

//go:embed data/bodies.yaml
var bodiesYAML []byte

// bodies are the sizes of named packages, by their folded names.
var bodies = sync.OnceValue(func() map[string][2]float64 {
	var list map[string][2]float64
	if err := yaml.Unmarshal(bodiesYAML, &list); err != nil {
		panic("bodies.yaml: " + err.Error()) // embedded; a test reads it
	}
	out := make(map[string][2]float64, len(list))
	for name, size := range list {
		out[foldPackage(name)] = size
	}
	return out
})

// foldPackage leaves the letters and digits of a package's name.
func foldPackage(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z':
			return r - 'a' + 'A'
		case r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
			return r
		}
		return -1
	}, s)
}

var (
	statedSize = regexp.MustCompile(`(?i)(?:^|[^0-9.,])(\d{1,3}(?:[.,]\d{1,3})?) ?(?:mm)? ?[x×] ?(\d{1,3}(?:[.,]\d{1,3})?)(?:mm| mm|$|[^0-9])`)
	statedDisc = regexp.MustCompile(`(?i)(?:^|[^a-z0-9])(?:d|dia|ø|radial|snap-in|electrolytic)[ _]?(\d{1,2}(?:[.,]\d{1,2})?)(?: ?mm|$|[^0-9a-z])`)
	chipCode   = regexp.MustCompile(`(?:^|[^0-9])(\d{4,6})(M)?(?:$|[^0-9])`)
	words      = regexp.MustCompile(`[A-Za-z]+-?\d+(?:-\d+)?[A-Za-z]?`)
	sized      = sync.Map{} // package -> [2]float64, as boards repeat few of them
)

// BodySize returns the nominal length and width of a package's body, mm, from
// its name as parts lists write it: a chip size ("0402", "C0402",
// "R_0603_1608Metric"), a size in the name ("QFN-32 5x5mm", "radial 8 mm"), or
// a package of the table. Chip sizes are nominal (EIA and IEC codes); a bare
// code is imperial. Known is false when the name says nothing.
func BodySize(pkg string) (size [2]float64, known bool) {
	if pkg == "" {
		return size, false
	}
	if s, ok := sized.Load(pkg); ok {
		size = s.([2]float64)
		return size, size != [2]float64{}
	}
	size = bodySize(pkg)
	sized.Store(pkg, size)
	return size, size != [2]float64{}
}

func bodySize(pkg string) [2]float64 {
	if s, ok := bodies()[foldPackage(pkg)]; ok {
		return s
	}
	if m := statedSize.FindStringSubmatch(pkg); m != nil {
		if a, b := millimetres(m[1]), millimetres(m[2]); a > 0 && b > 0 && a <= 200 && b <= 200 {
			return [2]float64{a, b}
		}
	}
	for _, m := range chipCode.FindAllStringSubmatch(pkg, -1) {
		p, ok := quantity.FindPackage(m[1] + m[2])
		if !ok {
			continue
		}
		return [2]float64{millimetres(p.Length), millimetres(p.Width)}
	}
	if m := statedDisc.FindStringSubmatch(pkg); m != nil {
		if d := millimetres(m[1]); d >= 2 {
			return [2]float64{d, d}
		}
	}
	for _, w := range words.FindAllString(pkg, -1) {
		if s, ok := bodies()[foldPackage(w)]; ok {
			return s
		}
	}
	return [2]float64{}
}

func millimetres(s string) float64 {
	v, _ := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return v
}
