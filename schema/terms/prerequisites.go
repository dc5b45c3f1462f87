package terms

import (
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"
)

// Prerequisite says what comes before some checks for safety's sake.
type Prerequisite struct {
	When  []string `yaml:"when"`  // phrases that name the later checks
	First []string `yaml:"first"` // phrases that name the earlier ones
	Do    string   `yaml:"do"`    // said where no earlier one is known
	Why   string   `yaml:"why"`
}

// Prerequisites returns the rules that come with the program.
var Prerequisites = sync.OnceValue(func() []Prerequisite {
	src, err := data.ReadFile("data/prerequisites.yaml")
	if err != nil {
		panic(err) // the embed pattern is ours
	}
	var list []Prerequisite
	if err := yaml.Unmarshal(src, &list); err != nil {
		panic(fmt.Sprintf("built-in prerequisites: %v", err))
	}
	return list
})
