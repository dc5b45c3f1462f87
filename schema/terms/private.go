package terms

import (
	"fmt"
	"maps"
	"slices"
	"sync"

	"go.yaml.in/yaml/v3"
)

// PrivateWords are what people write above or before what only the workshop may read, in
// every language that is offered, each once.
func PrivateWords() []string { return privateWords() }

var privateWords = sync.OnceValue(func() []string {
	src, err := data.ReadFile("data/private.yaml")
	if err != nil {
		panic(err) // the embed pattern is ours
	}
	var byLanguage map[string][]string
	if err := yaml.Unmarshal(src, &byLanguage); err != nil {
		panic(fmt.Sprintf("built-in words for private: %v", err))
	}
	list := slices.Concat(slices.Collect(maps.Values(byLanguage))...)
	slices.Sort(list)
	return slices.Compact(list)
})
