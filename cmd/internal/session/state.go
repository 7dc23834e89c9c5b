package session

import (
	"encoding/json"
	"time"
)

// A Place is where a practice is.
type Place string

// The places, in the order in which a read goes through them.
const (
	Choose   Place = "choose"    // what comes next, with the journal's proposal
	Making   Place = "making"    // the page is being made
	LookOver Place = "look-over" // the page lies there, the count-in comes
	CountIn  Place = "count-in"
	Take     Place = "take"     // the band plays: nothing to press but leave
	Slips    Place = "slips"    // which measures did not come out as written
	Meaning  Place = "meaning"  // what the slips mean
	Exercise Place = "exercise" // a warm-up or drill, played from the page or the head
	Rest     Place = "rest"
	Record   Place = "record" // the journal's weeks
)

// A Kind is what a step of a practice is.
type Kind string

// The kinds.
const (
	Read   Kind = "read"
	WarmUp Kind = "warm-up"
	Drill  Kind = "drill"
	Pause  Kind = "rest"
)

// A Choice is what to play, and how.
type Choice struct {
	Kind       Kind          `json:"kind"`
	Style      string        `json:"style,omitempty"` // of a read
	Rung       int           `json:"rung,omitempty"`  // 1 to 12
	Instrument string        `json:"instrument"`      // an ID
	Percent    int           `json:"percent"`         // of the page's tempo, 25 to 100
	Pressure   []string      `json:"pressure"`        // any of panel, cover, drop-out, cold, company
	Minutes    int           `json:"minutes,omitempty"`
	Key        string        `json:"key,omitempty"`      // concert, "" to be drawn
	Coverage   float64       `json:"coverage,omitempty"` // share of known notes that is asked for, 0 for none
	Figures    []string      `json:"figures,omitempty"`  // of a drill, or wanted in a read: the studio's own names
	LookOver   time.Duration `json:"look_over"`          // how long
}

// Under reports whether the take is to be under this kind of pressure.
func (c *Choice) Under(pressure string) bool {
	for _, p := range c.Pressure {
		if p == pressure {
			return true
		}
	}
	return false
}

// A Named is something to choose, with its words.
type Named struct {
	ID    string `json:"id"`
	Words string `json:"words"`
}

// An Offer is what there is to choose, and what the journal proposes.
type Offer struct {
	Proposal    Choice   `json:"proposal"`
	Why         []string `json:"why"` // a sentence each
	Styles      []Named  `json:"styles"`
	Rungs       []Named  `json:"rungs"` // from rung 1 up
	Instruments []Named  `json:"instruments"`
	Pressures   []Named  `json:"pressures"`
	// ByStyle is what is proposed for each style.
	ByStyle map[string]Choice `json:"by_style"`
	// Plan is the day's, empty where no day is planned.
	Plan []Step `json:"plan"`
}

// A Step is one of a day's plan.
type Step struct {
	Choice
	Title string `json:"title"`
	Why   string `json:"why"`
	Done  bool   `json:"done"`
}

// A Hint is one thing that a good reader looks for on this page.
type Hint struct {
	Word string `json:"word"`
	Text string `json:"text"`
}

// A Measure is one printed measure.
type Measure struct {
	Number  int    `json:"number"` // printed; 0 an upbeat
	Section string `json:"section"`
	First   bool   `json:"first"` // of its section
}

// A Page is what is to be played.
type Page struct {
	Kind     Kind      `json:"kind"`
	Title    string    `json:"title"`
	Words    string    `json:"words"` // style, rung, instrument in a line
	File     string    `json:"file"`  // where the MusicXML lies, "" for none
	Hints    []Hint    `json:"hints"` // in the order of looking
	Lines    []string  `json:"lines"` // of a warm-up or drill: how it goes, in a few words
	Measures []Measure `json:"measures"`
	Minutes  int       `json:"minutes,omitempty"` // how long an exercise takes
	Again    string    `json:"again"`             // the command that makes it again
	// For is the page as MusicXML for the instrument with this ID, "" for the player's own.
	// It fails where there is no such instrument.
	For func(instrument string) ([]byte, error) `json:"-"`
}

// A Beat is one felt beat of a take.
type Beat struct {
	At      time.Duration `json:"at"`      // from the start of the take
	Measure int           `json:"measure"` // index into the page's measures; -1 in the count-in
	Number  int           `json:"number"`  // printed; in the count-in 0 the chord, then 1, 2
	Pass    int           `json:"pass"`    // 2 at the repeat
	Beat    int           `json:"beat"`    // 1 upward
	Of      int           `json:"of"`      // beats in the measure
}

// A Running is a take under way or over.
type Running struct {
	Start time.Duration `json:"start"` // on the session's clock
	End   time.Duration `json:"end"`   // from Start
	Beats []Beat        `json:"beats"`
	// Rested are the printed measures in which the band was told to rest, said when it is over.
	Words []string `json:"words"` // said after it: what befell it, where the band rested
	Left  bool     `json:"left"`
}

// A Mark is what became of a measure.
type Mark struct {
	Pitch  bool `json:"pitch"`
	Rhythm bool `json:"rhythm"`
}

// Slipped reports whether it did not come out as written.
func (m Mark) Slipped() bool { return m.Pitch || m.Rhythm }

// Kept is the value of StoppedAt for a take that kept going.
const Kept = -1

// A Lesson is what a take's slips mean.
type Lesson struct {
	Right   int      `json:"right"` // measures
	Of      int      `json:"of"`
	Lines   []string `json:"lines"`   // in words, the most telling first
	Figures []Behind `json:"figures"` // behind the slips
	Drill   *Choice  `json:"drill"`   // nil where nothing slipped
	Next    Choice   `json:"next"`    // the read that is proposed
	Why     []string `json:"why"`     // of Next
	Traps   []string `json:"traps"`   // told now, after the take
}

// A Behind is a figure that stood where the player slipped.
type Behind struct {
	ID       string   `json:"id"`    // for Choice.Figures
	Name     string   `json:"name"`  // in music words
	Notes    []string `json:"notes"` // as it stood on the page, written pitches: "C4"
	Rhythm   string   `json:"rhythm"`
	Measures []int    `json:"measures"` // printed numbers
	Times    int      `json:"times"`
}

// A State is all that a screen shows. Screens read it and never change it.
type State struct {
	Version int      `json:"version"` // grows with every change
	Place   Place    `json:"place"`
	Choice  Choice   `json:"choice"`  // what is chosen, or being played
	Offer   *Offer   `json:"offer"`   // nil until the journal was asked
	Page    *Page    `json:"page"`    // from the look-over on
	Ends    Maybe    `json:"ends"`    // when the look-over, rest or exercise ends, on the session's clock
	Take    *Running `json:"take"`    // from the count-in on
	Marks   []Mark   `json:"marks"`   // one for each of the page's measures, from the slips on
	Stopped int      `json:"stopped"` // the index of the measure where the player stopped, Kept for none
	Lesson  *Lesson  `json:"lesson"`
	Record  []string `json:"record"`  // the journal's weeks, line by line
	Step    int      `json:"step"`    // of the day's plan, -1 where none is followed
	Stand   string   `json:"-"`       // the address of the stand, "" for none: for screens that are no stand
	Problem string   `json:"problem"` // what went wrong last, in words; "" for nothing
	Public  string   `json:"-"`       // of Problem, what may be said where others see it; "" for nothing
	Over    bool     `json:"over"`    // the practice is over: screens close
}

// A Maybe is a time on the session's clock, or none.
type Maybe struct {
	At  time.Duration
	Set bool
}

// MarshalJSON writes nanoseconds, or null.
func (m Maybe) MarshalJSON() ([]byte, error) {
	if !m.Set {
		return []byte("null"), nil
	}
	return json.Marshal(m.At)
}
