package phone

import (
	"bytes"
	"encoding/json"
	"image"
	"image/jpeg"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"earstone/pages/words"
)

// asked are the ways in which page, script and server ask for a sentence of the page.
var asked = []*regexp.Regexp{regexp.MustCompile(`data-say="([\w.]+)"`), regexp.MustCompile(`\bsay\("([\w.]+)"`), regexp.MustCompile(`deed\("([\w.]+)"`),
	regexp.MustCompile(`say\(reached \? "([\w.]+)" : "([\w.]+)"\)`)}

// TestEverySentenceIsThereAndAskedFor: what the page says stands in the catalogue, and
// nothing stands there that nobody asks for. refused and state are asked for by their
// beginning: the words after it are those of this package and of keep.js.
func TestEverySentenceIsThereAndAskedFor(t *testing.T) {
	p := New(Site{Programme: "Quarrow Banks", Now: time.Now})
	used := map[string]bool{"noscript": true}
	for _, name := range []string{"index.html", "phone.js"} {
		text, err := embedded.ReadFile("files/" + name)
		if err != nil {
			t.Fatal(err)
		}
		for _, way := range asked {
			for _, found := range way.FindAllStringSubmatch(string(text), -1) {
				for _, key := range found[1:] {
					used[key] = true
				}
			}
		}
	}
	for _, r := range []refusal{errForm, errCode, errNoKit, errCancelled, errPace, errLarge} {
		used["refused."+r.word] = true
	}
	for _, word := range []string{"label", "other_kit", "wrong", "taken", "differs", "photographs", "picture", "no_card"} {
		used["refused."+word] = true
	}
	for _, state := range []string{"waits", "held", "sent", "kept"} {
		used["state."+state] = true
	}
	delete(used, "refused.")
	delete(used, "state.")
	english, _ := words.PrintedIn("en")
	for _, key := range slices.Sorted(maps.Keys(used)) {
		if english.Texts["phone."+key] == "" {
			t.Errorf("the page asks for the sentence %s, and there is none", key)
		}
	}
	for key := range english.Texts {
		if name, ours := strings.CutPrefix(key, "phone."); ours && !used[name] {
			t.Errorf("nobody asks for the sentence %s", key)
		}
	}
	var all map[string]struct{ Texts map[string]string }
	if err := json.Unmarshal(p.files["words.json"].content, &all); err != nil || len(all) < 8 {
		t.Errorf("the phone is given %d languages (%v), want 8 or more", len(all), err)
	}
}

func TestAPhoneKeepsEveryFile(t *testing.T) {
	p, other := New(Site{Programme: "Quarrow Banks", Now: time.Now}), New(Site{Programme: "Dunmarrow", Now: time.Now})
	worker := string(p.files["worker.js"].content)
	for name := range p.files {
		if name != "worker.js" && name != "index.html" && !strings.Contains(worker, `"`+name+`"`) {
			t.Errorf("the phone does not keep %s", name)
		}
	}
	if strings.Contains(worker, "VERSION") || strings.Contains(worker, "FILES") {
		t.Error("the worker lacks its version or its files")
	}
	if worker == string(other.files["worker.js"].content) {
		t.Error("a page with another name has the same version: phones would keep the old one")
	}
}

// FuzzBareJPEG: whatever is sent, what is left of it is no longer, begins as a JPEG, and is
// left as it is a second time.
func FuzzBareJPEG(f *testing.F) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 16, 16)), nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add(append([]byte{0xff, 0xd8, 0xff, 0xe1, 0, 8, 'E', 'x', 'i', 'f', 0, 0}, b.Bytes()[2:]...))
	f.Add([]byte{0xff, 0xd8, 0xff, 0xda, 0, 2})
	f.Fuzz(func(t *testing.T, in []byte) {
		bare, width, height, ok := bareJPEG(in)
		if !ok {
			return
		}
		again, w, h, still := bareJPEG(bare)
		if len(bare) > len(in) || width < 1 || height < 1 || !still || w != width || h != height || !bytes.Equal(again, bare) {
			t.Errorf("%x becomes %x of %d × %d, and then %x", in, bare, width, height, again)
		}
	})
}
