package editor

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/schema/casefile"
	"benchlore/schema/filename"
)

// maxAtOnce is how many pictures one request may bring, and maxPerCase how many
// a case may have.
const (
	maxAtOnce  = 20
	maxPerCase = 200
)

// pictures takes photos in: dropped, pasted or picked on the sheet.
func (s *Server) pictures(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	names, problems, err := s.takePictures(c, r)
	if err != nil {
		s.fail(w, err)
		return
	}
	if len(names) == 0 {
		refuse(w, http.StatusUnprocessableEntity, strings.Join(problems, "; "))
		return
	}
	a, err := s.addPhotos(n, c, names)
	if err != nil {
		s.fail(w, err)
		return
	}
	if !wantsJSON(r) {
		http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID())+"#pictures", http.StatusSeeOther)
		return
	}
	s.json(w, http.StatusOK, map[string]any{"answer": a, "added": names, "problems": problems})
}

// takePictures reads each part of a form, makes it fit to be kept and writes it
// beside the case. What is no picture is named and the rest kept.
func (s *Server) takePictures(c *notebook.Case, r *http.Request) (names, problems []string, err error) {
	form, err := r.MultipartReader()
	if err != nil {
		return nil, []string{"no picture came with this"}, nil
	}
	keep := false
	for count := 0; ; {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		if part.FileName() == "" {
			value, _ := io.ReadAll(io.LimitReader(part, 100))
			keep = keep || part.FormName() == "keep" && len(value) > 0
			continue
		}
		if count++; count > maxAtOnce {
			problems = append(problems, fmt.Sprintf("at most %d pictures are taken at once", maxAtOnce))
			break
		}
		name, err := s.takeOne(c, part, keep)
		switch {
		case err == nil:
			names = append(names, name)
		case errors.Is(err, picture.ErrHEIC), errors.Is(err, picture.ErrKind), errors.Is(err, picture.ErrPixels),
			errors.Is(err, picture.ErrBytes), errors.Is(err, errDamaged):
			problems = append(problems, oneLine(path.Base(part.FileName()))+": "+err.Error())
		default:
			return names, problems, err
		}
	}
	if len(names)+len(problems) == 0 {
		problems = append(problems, "no picture came with this")
	}
	return names, problems, nil
}

// originalOf is where the file that a picture was made from is kept.
func originalOf(c *notebook.Case, name string) string {
	return disk.Kept + "/originals/" + c.ID() + "/" + name
}

var errDamaged = errors.New("the picture is damaged and was not kept")

func (s *Server) takeOne(c *notebook.Case, part *multipart.Part, keep bool) (string, error) {
	data, err := io.ReadAll(io.LimitReader(part, picture.MaxUpload+1))
	if err != nil {
		return "", err
	}
	taken, err := picture.Take(data)
	switch {
	case errors.Is(err, picture.ErrHEIC), errors.Is(err, picture.ErrKind), errors.Is(err, picture.ErrPixels),
		errors.Is(err, picture.ErrBytes):
		return "", err
	case err != nil:
		return "", errDamaged
	}
	folder := filepath.Join(s.dir, filepath.FromSlash(c.PhotoDir()))
	if info, err := os.Lstat(folder); err == nil && !info.IsDir() {
		return "", fmt.Errorf("%s is not a folder", c.PhotoDir())
	}
	stem := casefile.Slug(strings.TrimSuffix(path.Base(strings.ReplaceAll(part.FileName(), "\\", "/")), path.Ext(part.FileName())))
	if stem == "" || stem == "image" || stem == "blob" || filename.Check(stem) != nil {
		stem = "picture"
	}
	for i := 1; i <= maxPerCase; i++ {
		name := stem + taken.Extension
		if i > 1 {
			name = fmt.Sprintf("%s-%d%s", stem, i, taken.Extension)
		}
		err := s.place(c, name, taken.Data, data, keep)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		return name, err
	}
	return "", fmt.Errorf("a case has at most %d pictures", maxPerCase)
}

// place writes a new picture and, where it was asked for, the file that it was made from.
func (s *Server) place(c *notebook.Case, name string, taken, original []byte, keep bool) error {
	defer s.store.enter()()
	err := s.store.folder().Create(c.PhotoDir()+"/"+name, taken)
	if err == nil && keep {
		err = s.store.folder().Write(originalOf(c, name), original)
	}
	return err
}

// addPhotos names new pictures in the case.
func (s *Server) addPhotos(n *notebook.Notebook, c *notebook.Case, names []string) (answer, error) {
	return s.editPhotos(n, c, func(list []photoField) []photoField {
		for _, name := range names {
			caption := strings.ReplaceAll(strings.TrimSuffix(name, path.Ext(name)), "-", " ")
			list = append(list, photoField{File: name, Caption: strings.ToUpper(caption[:1]) + caption[1:]})
		}
		return list
	})
}

// editPhotos changes the list of photos, whoever else changes it meanwhile.
func (s *Server) editPhotos(n *notebook.Notebook, c *notebook.Case, edit func([]photoField) []photoField) (answer, error) {
	for range 20 {
		f, _, _, err := s.read(c)
		if err != nil {
			return answer{}, err
		}
		if f == nil {
			return answer{}, errUnreadable
		}
		was := FieldsOf(f)["photos"]
		next, _ := json.Marshal(edit(photosOf(f.Case.Photos)))
		a, _, err := s.apply(n, c, map[string]Change{"photos": {was, string(next)}})
		if err != nil {
			return answer{}, err
		}
		if len(a.Conflicts) == 0 {
			return a, nil
		}
	}
	return answer{}, errChanged
}

// blur makes part of a picture unreadable in its file.
func (s *Server) blur(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	var in struct {
		File       string
		X, Y, W, H float64
	}
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		refuse(w, http.StatusBadRequest, "the area cannot be read")
		return
	}
	data, err := s.photo(c, in.File)
	if err != nil {
		s.fail(w, err)
		return
	}
	taken, err := picture.Blur(data, []picture.Area{{X: in.X, Y: in.Y, W: in.W, H: in.H}})
	if err != nil {
		refuse(w, http.StatusUnprocessableEntity, err.Error())
		return
	}
	name := strings.TrimSuffix(in.File, path.Ext(in.File)) + taken.Extension
	if ext := strings.ToLower(path.Ext(in.File)); ext == taken.Extension || ext == ".jpeg" {
		name = in.File
	}
	if err := s.blurred(c, in.File, name, data, taken.Data); err != nil {
		s.fail(w, err)
		return
	}
	a, err := s.editPhotos(n, c, func(list []photoField) []photoField {
		for i := range list {
			if list[i].File == in.File {
				list[i].File = name
			}
		}
		return list
	})
	if err != nil {
		s.fail(w, err)
		return
	}
	s.json(w, http.StatusOK, map[string]any{"answer": a, "file": name})
}

// blurred puts a blurred picture in the place of the readable one, if that is still what it
// was made from. The readable one must be nowhere else.
func (s *Server) blurred(c *notebook.Case, was, name string, read, next []byte) error {
	folder, at := s.store.folder(), c.PhotoDir()+"/"
	err := folder.Change(at+name, "pictures/"+c.ID(), func(have []byte) ([]byte, error) {
		if name == was && !bytes.Equal(have, read) {
			return nil, errChanged
		}
		if name != was && have != nil && !bytes.Equal(have, next) {
			return nil, fmt.Errorf("there is a picture %s already; give it another name first", name)
		}
		return next, nil
	})
	if err != nil {
		return err
	}
	_ = folder.Remove(originalOf(c, was))
	if name == was {
		return nil
	}
	gone, err := folder.RemoveIf(at+was, "pictures/"+c.ID(), func(have []byte) bool { return bytes.Equal(have, read) })
	if err == nil && !gone {
		err = errChanged
	}
	return err
}

// photo reads a picture that the case names; any other name is not found.
func (s *Server) photo(c *notebook.Case, file string) ([]byte, error) {
	f, _, _, err := s.read(c)
	if err != nil {
		return nil, err
	}
	if f == nil || strings.ContainsAny(file, "/\\") ||
		!slices.ContainsFunc(photosOf(f.Case.Photos), func(p photoField) bool { return p.File == file }) {
		return nil, fs.ErrNotExist
	}
	root, err := os.OpenRoot(s.dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	info, err := root.Stat(filepath.FromSlash(path.Join(c.PhotoDir(), file)))
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > picture.MaxUpload {
		return nil, fs.ErrNotExist
	}
	return disk.Ordinary(root, path.Join(c.PhotoDir(), file), picture.MaxUpload)
}

// picture shows a picture of a case on the sheet, cleaned as it would be
// published.
func (s *Server) picture(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, c *notebook.Case) {
	file := r.PathValue("file")
	data, err := s.photo(c, file)
	if err == nil {
		data, err = picture.Clean(file, data)
	}
	if err != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", picture.MediaType(file))
	w.Header().Set("Content-Security-Policy", "default-src 'none'; sandbox")
	_, _ = w.Write(data)
}
