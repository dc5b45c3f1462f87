package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
)

func newFirmware() *cobra.Command {
	return &cobra.Command{
		Use:   "firmware FILE",
		Short: "Size and SHA-256 of a firmware file, as a row of the Firmware table",
		Long: `firmware reads a file that was read from a chip, or is to be written to one, and prints
the row that the Firmware table of a case takes. The file itself stays out of the
notebook: it may hold what belongs to the owner or the maker.`,
		Example: "  benchlore firmware read-u7.bin",
		Args:    exactly(1, "one file"),
		RunE: func(c *cobra.Command, args []string) error {
			f, err := os.Open(args[0])
			if err != nil {
				return usageError{err}
			}
			defer f.Close()
			if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
				return usagef("%s is not a file", args[0])
			}
			h := sha256.New()
			size, err := io.Copy(h, f)
			if err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "| chip | size | sha256 | tool | result | note |\n|---|---|---|---|---|---|\n|  | %s | %s |  |  |  |\n",
				sizeText(size), hex.EncodeToString(h.Sum(nil)))
			return nil
		},
	}
}

// sizeText writes a size as memories are sold, where it is such a one.
func sizeText(n int64) string {
	switch {
	case n > 0 && n%(1<<20) == 0:
		return fmt.Sprintf("%d MiB", n>>20)
	case n > 0 && n%(1<<10) == 0:
		return fmt.Sprintf("%d KiB", n>>10)
	}
	return fmt.Sprintf("%d B", n)
}
