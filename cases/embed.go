// Package cases holds the example workshop's notebook, which the demo writes
// to disk. The workshop, its makers, models and people are invented.
package cases

import "embed"

// Files is the notebook: notebook.yaml, cases, devices, terms and pictures.
//
//go:embed notebook
var Files embed.FS
