package terms

import (
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"

	"benchlore/schema/language"
)

// Synonyms returns groups of words and short phrases that mean one thing in a search in a
// language: the trade's short forms (PSU, cap, FET) and spellings. They are not
// controlled words; nobody writes them into front matter. There are some for English,
// German and French.
func Synonyms(tag string) [][]string { return synonyms()[tag] }

var synonyms = sync.OnceValue(func() map[string][][]string {
	out := map[string][][]string{}
	for tag, name := range map[string]string{language.English: "synonyms", "de": "synonyms-de", "fr": "synonyms-fr"} {
		src, err := data.ReadFile("data/" + name + ".yaml")
		if err != nil {
			panic(err) // the embed pattern is ours
		}
		var groups [][]string
		if err := yaml.Unmarshal(src, &groups); err != nil {
			panic(fmt.Sprintf("built-in synonyms: %v", err))
		}
		out[tag] = groups
	}
	return out
})
