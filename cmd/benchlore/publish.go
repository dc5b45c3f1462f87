package main

import (
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/schema/diagnostic"
)

func newPublish() *cobra.Command {
	var out string
	var quiet bool
	c := &cobra.Command{
		Use:         "publish [DIR] --out SITE",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Write the notebook as a site that needs no server",
		Long: `publish writes the notebook in DIR as pages to the folder SITE. The site works from
a stick, without a server and without a network. A notebook with errors is not
published.`,
		Example: "  benchlore publish --out site\n  benchlore publish bench-notes --out /media/stick/notes",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usagef("--out is missing: the folder to write the site to")
			}
			// A big notebook is held in memory: a third less of it for a tenth more time.
			debug.SetGCPercent(50)
			debug.SetMemoryLimit(memoryFor(0))
			n, err := loadJudged(folder(args))
			if err != nil {
				return err
			}
			debug.SetMemoryLimit(memoryFor(len(n.Cases)))
			_, err = publish(c, n, out, quiet)
			return err
		},
	}
	c.Flags().StringVar(&out, "out", "", "the folder to write the site to")
	c.Flags().BoolVar(&quiet, "quiet", false, "say nothing unless something is wrong")
	return c
}

// memoryFor is how much memory a run over so many cases takes before the collector works
// harder, in bytes: a little over what is held at the most, which was measured as 300 MB
// at 10,000 cases.
func memoryFor(cases int) int64 { return max(370<<20, int64(cases)*(37<<10)) }

func publish(c *cobra.Command, n *notebook.Notebook, out string, quiet bool) (*site.Report, error) {
	errOut := c.ErrOrStderr()
	if n.Errors() > 0 {
		if err := diagnostic.WriteText(errOut, n.Problems); err != nil {
			return nil, err
		}
		return nil, fmt.Errorf("%s; mend the errors, then publish again", overall(n))
	}
	report, err := site.Publish(c.Context(), n, out, site.Options{Progress: progress(errOut, quiet)})
	if errors.Is(err, site.ErrNotASite) {
		return nil, usagef("%w; choose an empty or new folder", err)
	}
	if err != nil {
		return nil, err
	}
	if err := diagnostic.WriteText(errOut, report.Problems); err != nil {
		return nil, err
	}
	if !quiet {
		fmt.Fprintf(c.OutOrStdout(), "%s: %d files, %d written, %d removed\n", out, report.Files, report.Written, report.Removed)
	}
	return report, nil
}

// progress draws a bar on a terminal, prints a line now and then elsewhere, and
// nothing when quiet.
func progress(w io.Writer, quiet bool) func(done, total int) {
	if quiet {
		return nil
	}
	if terminal(w) {
		var bar *progressbar.ProgressBar
		return func(done, total int) {
			if bar == nil {
				bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(w), progressbar.OptionSetDescription("publishing"),
					progressbar.OptionShowCount(), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())
			}
			_ = bar.Set(done)
		}
	}
	const step = 1000
	return func(done, total int) {
		if done%step == 0 {
			fmt.Fprintf(w, "published %d of %d files\n", done, total)
		}
	}
}
