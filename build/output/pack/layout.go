package pack

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/binary"
	"io"
	"slices"
)

// Sizes and signatures of a ZIP archive's records (PKWARE APPNOTE 4.3).
const (
	localSize, localSignature = 30, 0x04034b50
	descriptorSignature       = 0x08074b50
	endSize, endSignature     = 22, 0x06054b50
	end64Size                 = 56 + 20 // the record and its locator
)

// checkLayout makes sure that the archive is nothing but its files: each local header
// says what the directory says, one file follows the other, and nothing stands before,
// between or behind them. So whoever reads the archive from its beginning finds the
// same as who reads it from its end.
func checkLayout(r io.ReaderAt, size int64, files []*zip.File) error {
	sorted := slices.Clone(files)
	offsets := map[*zip.File]int64{}
	for _, f := range files {
		at, err := f.DataOffset()
		if err != nil {
			return refusef("%q: %v", f.Name, err)
		}
		offsets[f] = at
	}
	slices.SortFunc(sorted, func(a, b *zip.File) int { return cmp.Compare(offsets[a], offsets[b]) })
	at := int64(0)
	for _, f := range sorted {
		var h [localSize]byte
		if _, err := r.ReadAt(h[:], at); err != nil || binary.LittleEndian.Uint32(h[:]) != localSignature {
			return refusef("something stands before %q", f.Name)
		}
		u16 := func(i int) uint16 { return binary.LittleEndian.Uint16(h[i:]) }
		u32 := func(i int) uint32 { return binary.LittleEndian.Uint32(h[i:]) }
		nameLength, extraLength := int(u16(26)), int(u16(28))
		rest := make([]byte, nameLength+extraLength)
		if _, err := r.ReadAt(rest, at+localSize); err != nil {
			return refusef("%q is cut off", f.Name)
		}
		described := f.Flags&8 != 0 // sizes follow the data
		same := string(rest[:nameLength]) == f.Name && bytes.Equal(rest[nameLength:], f.Extra) &&
			u16(4) == f.ReaderVersion && u16(6) == f.Flags && u16(8) == f.Method && u16(10) == f.ModifiedTime && u16(12) == f.ModifiedDate
		if described {
			same = same && u32(14) == 0 && u32(18) == 0 && u32(22) == 0
		} else {
			same = same && u32(14) == f.CRC32 && uint64(u32(18)) == f.CompressedSize64 && uint64(u32(22)) == f.UncompressedSize64
		}
		if !same || offsets[f] != at+localSize+int64(len(rest)) {
			return refusef("%q is said twice in the archive, and not the same", f.Name)
		}
		at = offsets[f] + int64(f.CompressedSize64)
		if described {
			var d [16]byte
			if _, err := r.ReadAt(d[:], at); err != nil || binary.LittleEndian.Uint32(d[:]) != descriptorSignature ||
				binary.LittleEndian.Uint32(d[4:]) != f.CRC32 ||
				uint64(binary.LittleEndian.Uint32(d[8:])) != f.CompressedSize64 ||
				uint64(binary.LittleEndian.Uint32(d[12:])) != f.UncompressedSize64 {
				return refusef("%q is said twice in the archive, and not the same", f.Name)
			}
			at += int64(len(d))
		}
		if f.Comment != "" {
			return refusef("%q has a remark", f.Name)
		}
	}
	var end [endSize]byte
	if _, err := r.ReadAt(end[:], size-endSize); err != nil || binary.LittleEndian.Uint32(end[:]) != endSignature ||
		binary.LittleEndian.Uint16(end[20:]) != 0 {
		return refusef("something stands behind the archive")
	}
	directory, length := int64(binary.LittleEndian.Uint32(end[16:])), int64(binary.LittleEndian.Uint32(end[12:]))
	if len(files) >= 1<<16-1 { // the numbers are in the larger record then
		if directory != 1<<32-1 && directory != at || at >= size-endSize-end64Size {
			return refusef("something stands between the files and their directory")
		}
		return nil
	}
	if directory != at || directory+length+endSize != size {
		return refusef("something stands between the files and their directory")
	}
	return nil
}
