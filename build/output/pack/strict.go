package pack

import (
	"github.com/go-json-experiment/json"
)

// strictly decodes JSON that says each thing once and nothing else: no key twice, none in
// other capitals, none that is not known, no text that is not UTF-8 and nothing behind the
// end. Readers differ in what they make of such texts, and a pack means the same to all.
func strictly(text []byte, out any) error {
	return json.Unmarshal(text, out, json.RejectUnknownMembers(true))
}
