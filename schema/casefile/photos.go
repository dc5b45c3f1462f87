package casefile

import (
	"reflect"
	"slices"
	"strconv"

	"go.yaml.in/yaml/v3"
)

// SetPhotos changes the list of photos and returns the file read anew. A photo
// is known by its file: what is said of it changes leaf by leaf, so that
// whatever else stands there stays.
func (f *File) SetPhotos(list []Photo) (*File, error) {
	if len(list) == 0 {
		return f.Unset("photos")
	}
	next, err := f.photosByLeaf(list)
	if err != nil || !reflect.DeepEqual(next.Case.Photos, list) {
		return f.Set("photos", nodeOf(reflect.ValueOf(list)))
	}
	return next, nil
}

func (f *File) photosByLeaf(list []Photo) (*File, error) {
	next := f
	var err error
	// Those that are gone, from the last.
	for i, p := range slices.Backward(f.Case.Photos) {
		if !slices.ContainsFunc(list, func(q Photo) bool { return q.File == p.File }) && len(next.Case.Photos) > 1 {
			if next, err = next.putLeaf([]string{"photos", strconv.Itoa(i)}, ""); err != nil {
				return nil, err
			}
		}
	}
	have := next.Case.Photos
	if len(have) == 0 || len(have) > len(list) ||
		!slices.EqualFunc(have, list[:len(have)], func(a, b Photo) bool { return a.File == b.File }) {
		return nil, errNotPlain // in another order
	}
	for i, p := range list[:len(have)] {
		at := strconv.Itoa(i)
		for _, x := range []struct {
			key      string
			was, now any
		}{{"caption", have[i].Caption, p.Caption}, {"marks", have[i].Marks, p.Marks}, {"compare", have[i].Compare, p.Compare},
			{"side", have[i].Side, p.Side}, {"points", have[i].Points, p.Points}} {
			if reflect.DeepEqual(x.was, x.now) {
				continue
			}
			value := ""
			if n := nodeOf(reflect.ValueOf(x.now)); n != nil {
				if value, err = flowValue(n); err != nil {
					return nil, err
				}
			}
			if next, err = next.putLeaf([]string{"photos", at, x.key}, value); err != nil {
				return nil, err
			}
		}
	}
	if len(list) == len(have) {
		return next, nil
	}
	return next.addPhotos(list[len(have):])
}

// addPhotos puts photos behind those that are there.
func (f *File) addPhotos(list []Photo) (*File, error) {
	photos := child(f.tree(), "photos")
	e := f.extents()
	last := photos.Content[len(photos.Content)-1]
	first, okFirst := e.start(photos.Content[0])
	_, stop, okLast := e.of(last)
	if !okFirst || !okLast {
		return nil, errNotPlain
	}
	src := f.Text.Bytes
	var text string
	for _, p := range list {
		value, err := flowValue(nodeOf(reflect.ValueOf(p)))
		if err != nil {
			return nil, err
		}
		if photos.Style&yaml.FlowStyle != 0 {
			text += ", " + value
			continue
		}
		hyphen := first
		for hyphen > 0 && src[hyphen-1] != '\n' && src[hyphen] != '-' {
			hyphen--
		}
		text += f.newline() + f.indentOf(hyphen) + "- " + value
	}
	if photos.Style&yaml.FlowStyle == 0 {
		stop += len(lineAt(src, stop))
		text = trimReturn(src[:stop], f.newline()) + text[len(f.newline()):]
	}
	return f.changed(slices.Concat(src[:stop], []byte(text), src[stop:]), []string{"photos"})
}
