package pack

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"

	"aead.dev/minisign"

	"benchlore/build/disk"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// Who a pack is from is decided here. A workshop that signs is its key; a name is all
// that one has that does not, and a name can be had by two. So a key is never replaced by
// another, nor by none, and an unsigned pack joins what came under its name only where it
// has a case of that and none that contradicts it.

// keyMark stands before the public key in the trusted comment of a signature, which the
// signature covers.
const keyMark = " key "

// signedComment is the trusted comment of a signature: the pack's name and the key, so
// that whoever receives the pack knows the workshop by it from the first one on.
func signedComment(name string, key minisign.PrivateKey) string {
	public, _ := key.Public().(minisign.PublicKey)
	return name + keyMark + public.String()
}

// KeyBeside is the public key that the signature beside a pack (FILE.minisig) says made
// it, "" where there is no signature. Nothing is verified yet: [Open] does that, with this
// key. A signature that names no key is an error, since the pack is not unsigned.
func KeyBeside(name string) (string, error) {
	text, err := disk.ReadFile(name+SignatureEnding, maxKey)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	var s minisign.Signature
	if err := s.UnmarshalText(text); err != nil {
		return "", refusef("%s is no signature in minisign's format: %v", path.Base(name)+SignatureEnding, err)
	}
	at := strings.LastIndex(s.TrustedComment, keyMark)
	if at < 0 {
		return "", refusef("its signature does not say by which key; give the workshop's public key with --key")
	}
	public, err := parseKey(s.TrustedComment[at+len(keyMark):])
	return public.String(), err
}

// states reads what the notebook remembers of every workshop, by its name here.
func states(dir string) (map[string]state, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	list, err := disk.ReadDir(root, "received")
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	out := map[string]state{}
	for _, e := range list {
		id, ok := strings.CutSuffix(e.Name(), ".json")
		if !ok || !originForm.MatchString(id) {
			continue
		}
		if out[id], err = readState(dir, id); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// whose gives the name that the pack's workshop has in a notebook. as is the name that
// the person said, "" for none; sure says that nothing in the pack has to confirm it: the
// key does, the person did, or nothing came under that name yet.
func (p *Pack) whose(dir, own, as string) (id string, s state, sure bool, err error) {
	m := &p.Manifest
	known, err := states(dir)
	if err != nil {
		return "", s, false, err
	}
	if as != "" && (!originForm.MatchString(as) || len(as) > 60 || as == own) {
		return "", s, false, refusef("--as takes a name of small letters, figures and hyphens that is not this notebook's own, not %q", as)
	}
	id = as
	if as == "" {
		if id, err = p.named(known); err != nil {
			return "", s, false, err
		}
	}
	if id == own {
		return "", s, false, refusef("it comes from %q, as this notebook does; give the notebook another name, or unpack it by hand; "+
			"where it is another workshop of that name, say what it is called here with --as", m.Origin.Name)
	}
	if s, err = readState(dir, id); err != nil {
		return "", s, false, err
	}
	_, came := known[id]
	switch {
	case s.Key != "" && p.Signer == "":
		return "", s, false, refusef("earlier packs of %s were signed by the key %s, and this one is not signed by it; "+
			"an unsigned pack never updates a signed workshop. Give its signature beside it, or the key with --key; "+
			"where it is another workshop, --as gives it a name of its own", id, s.Key)
	case s.Key != "" && p.Signer != s.Key:
		return "", s, false, refusef("ANOTHER KEY: this pack calls itself %q and is signed by %s, but %s is known here by the key %s. "+
			"It is another workshop, or somebody who says so, until they tell you themselves. --as gives it a name of its own; "+
			"where they did change their key, take out what came first (receive --remove %s)", m.Origin.Name, p.Signer, id, s.Key, id)
	case s.Key == "" && p.Signer != "" && came && as == "":
		return "", s, false, refusef("packs of %s came unsigned, so nothing says that this key is theirs: %s. "+
			"Compare it with the workshop, then --as %s takes it; --as with another name keeps both apart", id, p.Signer, id)
	}
	return id, s, !came || as != "" || p.Signer != "", nil
}

// named is the name that a workshop has here where nobody said one: by its key, else by
// what its packs call it.
func (p *Pack) named(known map[string]state) (string, error) {
	m := &p.Manifest
	var byKey, byName []string
	for id, s := range known {
		if p.Signer != "" && s.Key == p.Signer {
			byKey = append(byKey, id)
		}
		if id == m.Origin.ID || strings.EqualFold(s.Origin.Name, m.Origin.Name) || casefile.Slug(s.Origin.Name) == m.Origin.ID {
			byName = append(byName, id)
		}
	}
	slices.Sort(byKey)
	slices.Sort(byName)
	switch {
	case len(byKey) == 1:
		return byKey[0], nil
	case slices.Contains(byKey, m.Origin.ID):
		return m.Origin.ID, nil
	case len(byKey) > 1:
		return "", refusef("its key is that of %s here; say which with --as", strings.Join(byKey, " and "))
	case len(byName) > 1:
		return "", refusef("several workshops here are called %q: %s; say which with --as, or give this one a name of its own",
			m.Origin.Name, strings.Join(byName, ", "))
	case len(byName) == 1:
		return byName[0], nil
	}
	return m.Origin.ID, nil
}

// kin refuses an unsigned pack that nothing in it joins to what came under its name: of
// the cases that both have, one must be the same, and none another. A case is the same
// where its bytes are as they came, or its title and the day it was opened; it is another
// where neither is. A pack that answers what was sent to that workshop, by the sum of its
// text, is its. Devices and words say nothing: two workshops may have them from a third.
func (l *Plan) kin() error {
	if l.answers {
		return nil
	}
	same := 0
	for _, t := range l.todo {
		if path.Ext(t.path) != ".md" || !strings.HasPrefix(t.path, "cases/") {
			continue
		}
		if l.state.Files[t.path] == t.sum {
			same++
			continue
		}
		text, err := t.read()
		if err != nil {
			return err
		}
		f, list := casefile.Parse(t.path, text)
		if f == nil || diagnostic.Count(list, diagnostic.Error) > 0 {
			continue // judge says what is wrong with it
		}
		here, ok := l.n.Case(f.Case.ID)
		if !ok {
			continue
		}
		a, b := &f.Case, &here.File.Case
		switch title, day := a.Title == b.Title, a.Opened == b.Opened; {
		case title && day:
			same++
			continue
		case title || day: // a correction, or chance: it says nothing
			continue
		}
		return l.stranger(fmt.Sprintf("its %s is %q (%s) and the one here is %q (%s)", strings.TrimPrefix(a.ID, l.Origin.ID+"-"),
			a.Title, a.Opened, b.Title, b.Opened))
	}
	if same == 0 {
		return l.stranger("it has no case that came before")
	}
	return nil
}

func (l *Plan) stranger(why string) error {
	return refusef("it is not signed, and nothing says that it is from the %s that is known here: %s. "+
		"Where it is, --as %s takes it; another workshop gets a name of its own with --as", l.Origin.ID, why, l.Origin.ID)
}

// FirstKey reports whether the pack brings the first key that its workshop is known by.
func (l *Plan) FirstKey() bool { return l.p.Signer != "" && l.state.Key == "" }

// called is what the workshop is called beside its words: its name, and where it has
// another one here, that too, since two workshops of one name may have the same words.
func (l *Plan) called() string {
	if l.Origin.ID == l.p.Manifest.Origin.ID {
		return l.Origin.Name
	}
	return l.Origin.Name + ", " + l.Origin.ID
}
