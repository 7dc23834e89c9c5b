package styles

import (
	"strings"
	"testing"
)

func TestShippedSheetsParse(t *testing.T) {
	for _, name := range Names() {
		s, err := Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		if s.Name != name {
			t.Errorf("%s.toml names itself %q", name, s.Name)
		}
	}
}

func TestWrongSheetsAreRefusedWithPlace(t *testing.T) {
	good, err := shipped.ReadFile("march.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`title = "March"`, "titel = \"March\"", `dirge.toml:3: key "titel"`},
		{`name = "6/8"`, `name = "7/x"`, `dirge.toml:9: meter "7/x"`},
		{`tunes = "march"`, "", `tunes = "march"`},
		{`ends = "half"`, `ends = "stop"`, `ends "stop"`},
		{`measures = 16`, `measures = 3`, "4 to 64"},
		{`of = "Trio"`, `of = "Tria"`, `"Tria"`},
		{`of = "Trio"`, "from = \"First\"\nmeasures = 8", "in the same key"},
		{`weight = 4`, `weight = "four"`, "dirge.toml:10"},
	} {
		bad := strings.Replace(string(good), c.old, c.new, 1)
		if bad == string(good) {
			t.Fatalf("the march sheet no longer holds %s", c.old)
		}
		_, err := Parse("dirge.toml", []byte(bad))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s for %s: got %v, want %q in it", c.new, c.old, err, c.want)
		}
	}
}
