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
		{`name = "6/8"`, `name = "7/x"`, `dirge.toml:8: meter "7/x"`},
		{`"I I IV V"`, `"I I IV H"`, `chord "H"`},
		{`"I I IV V"`, `"I I IV"`, "3 measures, a phrase has 4"},
		{`["i>half"]`, `["i>stop"]`, `cadence "stop"`},
		{`of = "Trio"`, `of = "Tria"`, `"Tria"`},
		{`of = "Trio"`, "from = \"First\"\nplans = [\"a>half\"]", "in the same key"},
		{`weight = 4`, `weight = "four"`, "dirge.toml:9"},
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

func TestPlan(t *testing.T) {
	plan, err := ParsePlan("a>half b>open a'>half a~>on a^>on a>close")
	if err != nil {
		t.Fatal(err)
	}
	want := []Return{New, New, Varied, Alike, Head, Again}
	for i, p := range plan {
		if p.Return != want[i] {
			t.Errorf("phrase %d returns %d, want %d", i, p.Return, want[i])
		}
	}
	if plan, err = ParsePlan("a'>half b>close", "a"); err != nil || plan[0].Return != Varied || plan[1].Return != New {
		t.Errorf("a section that takes up a: got %v, %v", plan, err)
	}
	for _, bad := range []string{"", "a", "a>stop", "a'>half", "a''>half"} {
		if _, err := ParsePlan(bad); err == nil {
			t.Errorf("plan %q was taken", bad)
		}
	}
}
