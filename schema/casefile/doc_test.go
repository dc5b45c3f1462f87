package casefile_test

import (
	"fmt"

	"benchlore/schema/casefile"
)

// An edit touches one field and no other byte of the file.
func ExampleFile_Set() {
	f, problems := casefile.Parse("lamp.md", []byte("---\ncase: 2026-0001   # ours\ntitle: Lamp dark\ndevice: {kind: lamp}\nopened: 2026-03-04\nsymptoms: []\n---\n## Symptom\n\nDark.\n"))
	if len(problems) > 0 {
		fmt.Println(problems[0].Message)
	}
	f, err := f.Set("title", "Lamp stays dark")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(string(f.Bytes()))
	// Output:
	// ---
	// case: 2026-0001   # ours
	// title: Lamp stays dark
	// device: {kind: lamp}
	// opened: 2026-03-04
	// symptoms: []
	// ---
	// ## Symptom
	//
	// Dark.
}
