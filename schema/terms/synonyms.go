package terms

import (
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"
)

// Synonyms returns groups of words and short phrases that mean one thing in a
// search: the trade's short forms (PSU, cap, FET) and spellings. They are not
// controlled words; nobody writes them into front matter.
var Synonyms = sync.OnceValue(func() [][]string {
	src, err := data.ReadFile("data/synonyms.yaml")
	if err != nil {
		panic(err) // the embed pattern is ours
	}
	var groups [][]string
	if err := yaml.Unmarshal(src, &groups); err != nil {
		panic(fmt.Sprintf("built-in synonyms: %v", err))
	}
	return groups
})
