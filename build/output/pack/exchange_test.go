package pack

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

func lampCase(id, title, opened, more, text string) string {
	return "---\ncase: " + id + "\ntitle: " + title + "\ndevice: own-lamp\nopened: " + opened + "\nsymptoms: [own-blink]\n" + more +
		"---\n## Symptom\n\n" + text + "\n"
}

// lampShop is a notebook with a word, a device and cases of its own, one a comeback.
func lampShop(name, maker string) map[string]string {
	return map[string]string{"notebook.yaml": "name: " + name + "\n",
		"terms/own.yaml":      "symptoms:\n  - {id: own-blink, name: Blinks as at " + maker + ", meaning: It blinks., group: behaves}\n",
		"devices/own-lamp.md": "---\ndevice: own-lamp\nkind: lamp\nmaker: " + maker + "\nmodel: L1\n---\n",
		"cases/2026/2026-0001-lamp.md": lampCase("2026-0001", maker+" lamp blinks", "2026-03-02", "closed: 2026-03-19\noutcome: fixed\n"+
			"photos: [{file: a.svg, caption: The lamp}]\n", "It blinks."),
		"cases/2026/2026-0001/a.svg":   `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect height="5" width="5"/></svg>`,
		"cases/2026/2026-0002-lamp.md": lampCase("2026-0002", maker+" lamp blinks again", "2026-03-25", "returns: 2026-0001\n", "Again.")}
}

func place(t *testing.T, dir, name, text string) {
	t.Helper()
	p := filepath.Join(dir, filepath.FromSlash(name))
	require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o755))
	require.NoError(t, os.WriteFile(p, []byte(text), 0o644))
}

// sound holds that a notebook checks without an error.
func sound(t *testing.T, dir string) *notebook.Notebook {
	t.Helper()
	n := load(t, dir)
	for _, d := range append(slices.Clone(n.Problems), verdict.New(n).Problems()...) {
		require.NotEqual(t, diagnostic.Error, d.Severity, "%s", d)
	}
	return n
}

// TestExchangeWalk: two workshops pack, edit, receive and remove for ten rounds by a
// random walk. After each step both notebooks are without an error and every file that a
// workshop wrote has its bytes; at the end of a walk both publish, and removing all leaves
// what was there before, what was edited here and what that needs, which is named.
func TestExchangeWalk(t *testing.T) {
	names := [2]string{"Quay Street", "Tidewater"}
	ids := [2]string{"quay-street", "tidewater"}
	bare, leaned := 0, 0
	for seed := range uint64(2) {
		r := rand.New(rand.NewPCG(seed, 77))
		var dirs [2]string
		var written [2]map[string]string // what the test wrote: the oracle
		var keys [2][2]string
		for i := range dirs {
			written[i] = lampShop(names[i], []string{"Lumo", "Varde"}[i])
			dirs[i] = workshop.Book(t, written[i]).Dir
			private, public, err := NewKey(t.TempDir())
			require.NoError(t, err)
			keys[i] = [2]string{private, public}
		}
		edited := [2]map[string]bool{{}, {}}
		check := func() {
			t.Helper()
			for i, dir := range dirs {
				sound(t, dir)
				have := tree(t, dir)
				for name, text := range written[i] {
					require.Equal(t, text, have[name], "seed %d: %s of %s", seed, name, names[i])
				}
			}
		}
		takeOut := func(i int) {
			t.Helper()
			out, err := TakeOut(load(t, dirs[i]), ids[1-i])
			if err != nil {
				require.ErrorContains(t, err, "nothing came", "seed %d", seed)
				return
			}
			for name := range tree(t, dirs[i]) {
				_, ours := written[i][name]
				require.True(t, ours || slices.Contains(out.Needed, name) || name == "received/"+ids[1-i]+".json", "seed %d: %s is left", seed, name)
			}
			for name := range edited[i] {
				require.Contains(t, out.Edited, name)
			}
			if len(out.Edited)+len(out.Needed) == 0 {
				require.Equal(t, written[i], tree(t, dirs[i]), "seed %d", seed)
				bare++
			} else if len(out.Needed) > 0 {
				leaned++
			}
		}
		for round := range 10 {
			for i := range dirs {
				switch r.IntN(5) {
				case 0: // one of our own is written on
					own := "cases/2026/2026-0002-lamp.md"
					written[i][own] += fmt.Sprintf("\nRound %d.\n", round)
					place(t, dirs[i], own, written[i][own])
				case 1: // a case more
					id := fmt.Sprintf("2026-01%02d", round)
					name := "cases/2026/" + id + "-lamp.md"
					written[i][name] = lampCase(id, "Lamp of round "+fmt.Sprint(round), "2026-04-0"+fmt.Sprint(1+round%9), "", "Dark.")
					place(t, dirs[i], name, written[i][name])
				case 2: // one of theirs is written on here
					var theirs []string
					for name := range tree(t, dirs[i]) {
						if strings.HasPrefix(name, "cases/from-") && strings.HasSuffix(name, ".md") {
							theirs = append(theirs, name)
						}
					}
					if slices.Sort(theirs); len(theirs) > 0 && r.IntN(2) == 0 {
						name := theirs[r.IntN(len(theirs))]
						written[i][name] = tree(t, dirs[i])[name] + "\nOur remark.\n"
						place(t, dirs[i], name, written[i][name])
						edited[i][name] = true
					}
				case 3:
					takeOut(i)
				default:
				}
				check()
				name, _ := packed(t, dirs[1-i], Options{})
				_, err := Sign(name, keys[1-i][0])
				require.NoError(t, err)
				if r.IntN(2) == 0 {
					received(t, name, keys[1-i][1], dirs[i])
					check()
				}
			}
		}
		for i := range dirs {
			_, err := site.Publish(t.Context(), sound(t, dirs[i]), filepath.Join(t.TempDir(), "site"), site.Options{})
			require.NoError(t, err)
			takeOut(i)
			check()
		}
	}
	assert.Positive(t, bare, "no walk removed all")
	assert.Positive(t, leaned, "no walk kept what an edited case needs")
}

// TestRemovedAfterAnEdit: the device, word, picture and first case of an edited case stay
// and are named, and so is what a note of our own names.
func TestRemovedAfterAnEdit(t *testing.T) {
	name, _ := packed(t, workshop.Book(t, lampShop("Tidewater", "Varde")).Dir, Options{})
	const first, again = "cases/from-tidewater/2026/tidewater-2026-0001-lamp.md", "cases/from-tidewater/2026/tidewater-2026-0002-lamp.md"
	ours := workshop.Book(t, map[string]string{"notebook.yaml": "name: Ours\n"}).Dir
	received(t, name, "", ours)
	place(t, ours, again, tree(t, ours)[again]+"\nOur remark.\n")
	out, err := TakeOut(load(t, ours), "tidewater")
	require.NoError(t, err)
	assert.Equal(t, []string{again}, out.Edited)
	assert.Equal(t, []string{first, "cases/from-tidewater/2026/tidewater-2026-0001/a.svg", "devices/tidewater-own-lamp.md", "terms/from-tidewater.yaml"}, out.Needed)
	sound(t, ours)

	own := workshop.Book(t, map[string]string{"notebook.yaml": "name: Ours\n"}).Dir
	received(t, name, "", own)
	place(t, own, "cases/2026/2026-0009-x.md", "---\ncase: 2026-0009\ntitle: Ours\ndevice: tidewater-own-lamp\nopened: 2026-05-01\nsymptoms: [flicker]\n---\n## Symptom\n\nIt flickers.\n")
	out, err = TakeOut(load(t, own), "tidewater")
	require.NoError(t, err)
	assert.Empty(t, out.Edited)
	assert.Equal(t, []string{"devices/tidewater-own-lamp.md"}, out.Needed)
	sound(t, own)
}

// TestWhoIsIt: a workshop that signs is its key, whatever it calls itself; another key or
// none under its name is refused, and two workshops of one name stay two.
func TestWhoIsIt(t *testing.T) {
	shop := func(name, maker string) string { return workshop.Book(t, lampShop(name, maker)).Dir }
	key := func() (private, public string) {
		private, public, err := NewKey(t.TempDir())
		require.NoError(t, err)
		return private, public
	}
	signed := func(dir, private string) string {
		name, _ := packed(t, dir, Options{})
		_, err := Sign(name, private)
		require.NoError(t, err)
		return name
	}
	take := func(name, as, into string) (string, error) {
		by, err := KeyBeside(name)
		require.NoError(t, err)
		p, err := Open(name, by)
		require.NoError(t, err)
		defer p.Close()
		plan, err := p.PreviewWith(load(t, into), Choices{As: as})
		if err != nil {
			return "", err
		}
		return plan.Origin.ID, plan.Receive(t.Context())
	}
	privateA, _ := key()
	privateB, _ := key()
	real, other := shop("Tidewater", "Varde"), shop("Tidewater", "Lumo")
	ours := workshop.Book(t, map[string]string{"notebook.yaml": "name: Ours\n"}).Dir

	id, err := take(signed(real, privateA), "", ours)
	require.NoError(t, err)
	assert.Equal(t, "tidewater", id)
	before := tree(t, ours)
	refused := func(name, as, says string) {
		t.Helper()
		_, err := take(name, as, ours)
		assert.ErrorIs(t, err, errRefused)
		assert.ErrorContains(t, err, says)
		assert.Equal(t, before, tree(t, ours), "nothing is written")
	}
	refused(signed(other, privateB), "", "ANOTHER KEY")
	refused(signed(other, privateB), "tidewater", "ANOTHER KEY")
	unsigned, _ := packed(t, real, Options{})
	refused(unsigned, "", "never updates a signed")
	refused(unsigned, "tidewater", "never updates a signed")
	refused(unsigned, "ours", "--as")
	refused(unsigned, "../x", "--as")

	// The same key under another name is the same workshop, and a signature is in its bytes.
	place(t, real, "notebook.yaml", "name: Tidewater and Daughters\n")
	id, err = take(signed(real, privateA), "", ours)
	require.NoError(t, err)
	assert.Equal(t, "tidewater", id)
	// Another workshop of that name stands apart, and its later packs find their place.
	id, err = take(signed(other, privateB), "tidewater-two", ours)
	require.NoError(t, err)
	assert.Equal(t, "tidewater-two", id)
	id, err = take(signed(other, privateB), "", ours)
	require.NoError(t, err)
	assert.Equal(t, "tidewater-two", id)
	n := sound(t, ours)
	for at, maker := range map[string]string{"tidewater": "Varde", "tidewater-two": "Lumo"} {
		c, ok := n.Case(at + "-2026-0001")
		require.True(t, ok)
		assert.Equal(t, maker+" lamp blinks", c.File.Case.Title)
	}

	// Without keys only a case of both joins them, and a contradiction parts them.
	ours = workshop.Book(t, map[string]string{"notebook.yaml": "name: Ours\n"}).Dir
	place(t, real, "notebook.yaml", "name: Tidewater\n")
	unsigned, _ = packed(t, real, Options{})
	_, err = take(unsigned, "", ours)
	require.NoError(t, err)
	before = tree(t, ours)
	stranger, _ := packed(t, other, Options{}) // its cases have the numbers, days and words of ours
	refused(stranger, "", "no case that came before")
	place(t, other, "cases/2026/2026-0001-lamp.md", lampCase("2026-0001", "Lumo lamp", "2026-03-01", "photos: [{file: a.svg, caption: A}]\n", "Dark."))
	stranger, _ = packed(t, other, Options{})
	refused(stranger, "", "the one here is")
	for _, gone := range []string{"2026-0001-lamp.md", "2026-0002-lamp.md", "2026-0001/a.svg"} {
		require.NoError(t, os.Remove(filepath.Join(other, "cases", "2026", filepath.FromSlash(gone))))
	}
	place(t, other, "cases/2026/2026-0050-lamp.md", lampCase("2026-0050", "Lamp", "2026-06-01", "", "Dark."))
	stranger, _ = packed(t, other, Options{})
	refused(stranger, "", "no case that came before")
	refused(signed(real, privateA), "", "came unsigned")
	id, err = take(signed(real, privateA), "tidewater", ours)
	require.NoError(t, err)
	assert.Equal(t, "tidewater", id)
}

// TestAnonymousTimes: in an anonymous pack every time between two days is as it was, over
// a case and its comebacks, and the workshop's name stands nowhere; a text that says it
// stops the pack.
func TestAnonymousTimes(t *testing.T) {
	theirs := workshop.Book(t, lampShop("Tidewater", "Varde")).Dir
	_, data := packed(t, theirs, Options{Anonymous: true})
	all := contents(t, data)
	for name, text := range all {
		assert.NotContains(t, strings.ToLower(name+text), "tidewater", name)
	}
	day := regexp.MustCompile(`(?m)^(opened|closed): (.*)$`)
	days := map[string]string{}
	for _, id := range []string{"0001", "0002"} {
		for _, m := range day.FindAllStringSubmatch(all["notes/cases/2026/2026-"+id+"-lamp.md"], -1) {
			days[id+m[1]] = m[2]
		}
	}
	// Opened on 2 March, done 17 days later, back 6 days after that.
	assert.Equal(t, map[string]string{"0001opened": "2026-03-01", "0001closed": "2026-03-18", "0002opened": "2026-03-24"}, days)
	_, ok := casefile.Day(days["0002opened"])
	assert.True(t, ok)
	_, again := packed(t, theirs, Options{Anonymous: true})
	assert.Equal(t, all["manifest.json"], contents(t, again)["manifest.json"], "a later pack is known as the same workshop's")

	place(t, theirs, "cases/2026/2026-0003-lamp.md", lampCase("2026-0003", "Lamp", "2026-06-01", "", "Brought to\nTIDEWATER on foot."))
	_, _, err := Write(t.Context(), load(t, theirs), &strings.Builder{}, Options{Anonymous: true})
	assert.ErrorIs(t, err, ErrNamed)
	assert.ErrorContains(t, err, "cases/2026/2026-0003-lamp.md:")
}
