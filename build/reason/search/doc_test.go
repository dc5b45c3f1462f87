package search_test

import (
	"fmt"
	"os"

	"benchlore/build/notebook"
	"benchlore/build/reason/search"
	"benchlore/cases"
)

// The example workshop's notebook, asked in plain words.
func Example() {
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	if err := os.CopyFS(dir, cases.Files); err != nil {
		fmt.Println(err)
		return
	}
	n, err := notebook.Load(dir + "/notebook")
	if err != nil {
		fmt.Println(err)
		return
	}
	ix, err := search.Memory(n)
	if err != nil {
		fmt.Println(err)
		return
	}
	defer ix.Close()
	found, err := ix.Find(search.Query{Words: "pump clicks but no water", Limit: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, h := range found.Hits {
		fmt.Println(h.Case.ID(), h.Case.File.Case.Title)
	}
	// Output: 2024-0012 Coffee maker clicks, but the pump is silent
}
