package pack

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"

	"benchlore/build/disk"
)

// What went out of a single case and what came in is kept, so that a merge knows what
// both sides had: kept/exchanged/CASE/NUMBER-WAY-WORKSHOP-SUM.md. The text is as it
// stands in this notebook; the sum is that of the bytes that travelled.
const exchangedDir = disk.Kept + "/exchanged"

const sentWay, receivedWay = "sent", "received"

type exchange struct {
	number         int
	way, shop, sum string
	name           string // in the notebook
}

var exchangeForm = regexp.MustCompile(`^(\d{4,8})-(sent|received)-([a-z0-9-]+)-([0-9a-f]{64})\.md$`)

// exchanges lists what went out and came in of a case, in order.
func exchanges(root *os.Root, id string) ([]exchange, error) {
	list, err := disk.ReadDir(root, path.Join(exchangedDir, id))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []exchange
	for _, e := range list {
		if m := exchangeForm.FindStringSubmatch(e.Name()); m != nil {
			n, _ := strconv.Atoi(m[1])
			out = append(out, exchange{n, m[2], m[3], m[4], path.Join(exchangedDir, id, e.Name())})
		}
	}
	slices.SortFunc(out, func(a, b exchange) int { return a.number - b.number })
	return out, nil
}

// noteExchange writes down what went out or came in; the same once more is nothing new.
func noteExchange(dir, id, way, shop, sum string, text []byte) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	list, err := exchanges(root, id)
	if err != nil {
		return err
	}
	next := 1
	if len(list) > 0 {
		last := list[len(list)-1]
		if last.way == way && last.shop == shop && last.sum == sum {
			return nil
		}
		next = last.number + 1
	}
	name := path.Join(exchangedDir, id, fmt.Sprintf("%04d-%s-%s-%s.md", next, way, shop, sum))
	return disk.Folder(dir).Change(name, id, func(have []byte) ([]byte, error) {
		if bytes.Equal(have, text) {
			return nil, nil
		}
		return text, nil
	})
}
