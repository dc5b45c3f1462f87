// Package disk writes files safely: whole or not at all, never through a link, never
// outside the folder. It also knows which of the files that it finds again were made by
// this installation, and may therefore be believed.
package disk
