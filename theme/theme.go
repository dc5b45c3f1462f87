// Package theme holds how pages look and behave: templates, style sheet,
// scripts and icon. It has no logic; the site package fills the templates with
// finished words.
package theme

import "embed"

// Templates are html/template sources, one file for each kind of page.
//
//go:embed templates/*.html
var Templates embed.FS

// Assets are copied into every site as they are.
//
//go:embed assets
var Assets embed.FS

// Bench are the templates, style and script of the writing pages, which are no
// part of a published site.
//
//go:embed bench
var Bench embed.FS

// Messages are the texts of pages in other languages than English, by their
// English: one file for each language.
//
//go:embed messages/*.yaml
var Messages embed.FS

// Path are the texts of the way for a new person, in Markdown, one folder for each
// language.
//
//go:embed path
var Path embed.FS

// Docs are the texts on using the program, in Markdown, one folder for each
// language.
//
//go:embed docs
var Docs embed.FS
