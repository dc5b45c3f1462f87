package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Completion of arguments and flags by the shell: ids and words of the notebook in
// --notebook, or of the current folder.

// completeWords completes a flag with the words of a class.
func completeWords(c *cobra.Command, flag string, class terms.Class) {
	_ = c.RegisterFlagCompletionFunc(flag, func(c *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		var out []string
		if n := bookOf(c); n != nil {
			for _, t := range n.Terms.All(class) {
				out = append(out, t.ID+"\t"+t.Name)
			}
		}
		return beginning(out, typed), cobra.ShellCompDirectiveNoFileComp
	})
}

// completeDevices completes a flag with the devices of the notebook.
func completeDevices(c *cobra.Command, flag string) {
	_ = c.RegisterFlagCompletionFunc(flag, func(c *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		var out []string
		if n := bookOf(c); n != nil {
			for _, d := range n.Devices {
				out = append(out, d.ID+"\t"+d.Name(n.Terms))
			}
		}
		return beginning(out, typed), cobra.ShellCompDirectiveNoFileComp
	})
}

// completeCases completes the first argument with the ids of cases.
func completeCases(c *cobra.Command) {
	c.ValidArgsFunction = func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		var out []string
		if n := bookOf(c); n != nil && len(args) == 0 {
			for _, k := range n.Cases {
				out = append(out, k.ID()+"\t"+k.File.Case.Title)
			}
		}
		return beginning(out, typed), cobra.ShellCompDirectiveNoFileComp
	}
}

// completeFrom completes the first argument from a list.
func completeFrom(c *cobra.Command, list func() []string) {
	c.ValidArgsFunction = func(_ *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return beginning(list(), typed), cobra.ShellCompDirectiveNoFileComp
	}
}

func bookOf(c *cobra.Command) *notebook.Notebook {
	dir := "."
	if f := c.Flags().Lookup("notebook"); f != nil && f.Value.String() != "" {
		dir = f.Value.String()
	}
	n, err := notebook.Load(dir)
	if err != nil {
		return nil
	}
	return n
}

func beginning(list []string, typed string) []string {
	return slices.DeleteFunc(list, func(s string) bool { return !strings.HasPrefix(strings.ToLower(s), strings.ToLower(typed)) })
}

// addCompletion says for each command what can be completed.
func addCompletion(root *cobra.Command) {
	for _, c := range root.Commands() {
		switch c.Name() {
		case "find", "triage":
			completeWords(c, "symptom", terms.Symptom)
			completeDevices(c, "device")
		case "similar", "history", "erase", "practise", "label":
			completeCases(c)
		case "terms":
			completeFrom(c, func() []string {
				var out []string
				for _, k := range terms.Classes {
					out = append(out, string(k))
				}
				return out
			})
		case "reckon":
			completeFrom(c, func() []string {
				var out []string
				for _, f := range quantity.Formulas() {
					out = append(out, f.Name+"\t"+f.Title)
				}
				return out
			})
		}
		switch c.Name() {
		case "find":
			for flag, class := range map[string]terms.Class{"kind": terms.Kind, "fault": terms.Fault,
				"at": terms.Place, "action": terms.Action, "outcome": terms.Outcome} {
				completeWords(c, flag, class)
			}
		case "triage":
			completeWords(c, "absent", terms.Symptom)
			completeWords(c, "before", terms.Before)
		}
	}
}
