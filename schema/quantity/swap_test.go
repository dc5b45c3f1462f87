package quantity

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// table reads rows of a file with a head, by tabs.
func table(t testing.TB, name string, columns int) [][]string {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	var rows [][]string
	for i, line := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		row := strings.Split(line, "\t")
		require.Len(t, row, columns, "%s:%d", name, i+1)
		if i > 0 {
			rows = append(rows, row)
		}
	}
	return rows
}

// TestSwap judges the swaps of testdata/swaps.tsv: each with the answer that a
// repairer gave by hand, what the reasons must say, and where that is from.
func TestSwap(t *testing.T) {
	rows := table(t, "swaps.tsv", 5)
	assert.GreaterOrEqual(t, len(rows), 200)
	for _, row := range rows {
		r, err := Swap(row[0], row[1], nil)
		require.NoError(t, err, row)
		assert.Equal(t, row[2], string(r.Verdict), "%s | %s: %v", row[0], row[1], r.Reasons)
		assert.Contains(t, fmt.Sprint(r.Reasons), row[3], "%s | %s", row[0], row[1])
		assert.NotEmpty(t, row[4])
	}
	// A rule that is switched off says nothing, one of a protective part stays.
	r, err := Swap("100 nF 16 V X7R 0402", "100 nF 10 V X7R 0402", []string{"capacitor-voltage"})
	require.NoError(t, err)
	assert.Equal(t, Fits, r.Verdict)
	for _, pair := range [][2]string{{"fuse 2 A 250 V fast", "fuse 2 A 32 V fast"},
		{"100 nF X2 275 V", "100 nF X2 100 V"}, {"fusible resistor 10R 1 W", "fusible resistor 10R 0.1 W"}} {
		r, err = Swap(pair[0], pair[1], []string{"fuse-voltage", "capacitor-voltage", "resistor-power"})
		require.NoError(t, err)
		assert.Equal(t, DoesNotFit, r.Verdict, pair)
	}
	for _, bad := range []string{"", "  ", strings.Repeat("x", maxText+1)} {
		_, err = Swap("100 nF", bad, nil)
		assert.Error(t, err)
	}
}

// TestMarks reads the markings of testdata/marks.tsv: each means what a repairer took it
// for by hand, and that first unless the row says otherwise.
func TestMarks(t *testing.T) {
	rows := table(t, "marks.tsv", 3)
	assert.GreaterOrEqual(t, len(rows), 300)
	for _, row := range rows {
		list, err := Read(row[0])
		if !assert.NoError(t, err, row[0]) {
			continue
		}
		var values []string
		for _, r := range list {
			values = append(values, r.Value)
			assert.NotEmpty(t, r.Source, row[0])
		}
		if strings.HasSuffix(row[2], "not the first reading") {
			assert.Contains(t, values, row[1], row[0])
		} else {
			assert.True(t, strings.HasPrefix(values[0], row[1]), "%s is %v, not %s", row[0], values, row[1])
		}
	}
	for mark, says := range map[string]string{"10,000 ohm": "10 Ω", "4,700 Ω": "4.7 Ω"} {
		list, err := Read(mark)
		require.NoError(t, err)
		require.Len(t, list, 2, "the comma may be either")
		assert.Equal(t, says, list[1].Value)
		_, err = Parse(mark)
		assert.ErrorContains(t, err, "may group thousands or be the decimal point", "never a guess")
	}
	for _, mark := range []string{"A7W", "KL3Z", "AM1x"} {
		_, err := Read(mark)
		assert.ErrorContains(t, err, "makers give one mark to several types", mark)
	}
	// A pair of numbers is no group of thousands.
	for _, text := range []string{"0 100", "0.5 100", "1000 100", "1 0000", "10 22"} {
		v, err := Parse(text)
		assert.Error(t, err, "%s: %s", text, v)
	}
}

// TestDecouplingIsForCapacitors: a remark that was made for one kind is said of no other.
func TestDecouplingIsForCapacitors(t *testing.T) {
	for kind, k := range swapData().Kinds {
		for _, r := range k.Rules {
			assert.NotEmpty(t, r.Source, "%s-%s", kind, r.Name)
			if kind != "capacitor" {
				assert.NotContains(t, r.Note, "decoupling", "%s-%s", kind, r.Name)
			}
			for pair, p := range r.Pairs {
				assert.Contains(t, []Fit{Fits, FitsWithRemark, CannotTell, DoesNotFit}, Fit(p[0]), pair)
			}
			if r.Test == "near" {
				assert.NotZero(t, r.Fit[1], "%s-%s", kind, r.Name)
			}
		}
	}
}

// FuzzSwap: a swap with a word that nobody understands never fits, on either side,
// and no text stops the program.
func FuzzSwap(f *testing.F) {
	for _, row := range table(f, "swaps.tsv", 5) {
		f.Add(row[0], row[1], "zq")
	}
	f.Fuzz(func(t *testing.T, old, new, word string) {
		_, err := Swap(old, new, nil)
		if err != nil {
			return
		}
		// A word of letters alone, made so that no table has it.
		strange := "zq" + strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' {
				return r
			}
			return -1
		}, strings.ToLower(word)) + "qz"
		for _, pair := range [][2]string{{old + " " + strange, new}, {old, new + " " + strange},
			{old + " " + strange, new + " " + strange}, {strange + " " + old, new}} {
			r, err := Swap(pair[0], pair[1], nil)
			if err == nil && (r.Verdict == Fits || r.Verdict == FitsWithRemark) {
				t.Fatalf("%q | %q: %v", pair[0], pair[1], r)
			}
		}
	})
}

// TestNegativeRails: a negative rail is low when it is small in size. Common practice,
// no source.
func TestNegativeRails(t *testing.T) {
	e, err := ParseExpectation("-12 V ±5 %")
	require.NoError(t, err)
	for text, want := range map[string]Verdict{"-12 V": In, "-11.4 V": In, "-12.6 V": In, "-10 V": Low, "0 V": Low,
		"-14 V": High, "12 V": Reversed} {
		v, err := ParseReading(text)
		require.NoError(t, err)
		got, err := Judge(e, v, Decimal{})
		require.NoError(t, err)
		assert.Equal(t, want, got, text)
	}
}
