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

// Unpowered says which checks need no power: those whose wording has all words of a
// Without phrase and none of a With phrase.
type Unpowered struct {
	Without []string `yaml:"without"`
	With    []string `yaml:"with"`
	// Invasive checks take something apart for good or for long.
	Invasive []string `yaml:"invasive"`
}

// UnpoweredChecks are the phrases that come with the program.
var UnpoweredChecks = sync.OnceValue(func() Unpowered {
	src, err := data.ReadFile("data/unpowered.yaml")
	if err != nil {
		panic(err) // the embed pattern is ours
	}
	var u Unpowered
	if err := yaml.Unmarshal(src, &u); err != nil {
		panic(fmt.Sprintf("built-in unpowered checks: %v", err))
	}
	return u
})
