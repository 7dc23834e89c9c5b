package stand

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"

	"onward/cmd/internal/session"
)

// A view is what a stand is told: the state, without the beats, which it asks for when the
// take begins.
type view struct {
	session.State
	Page *viewPage `json:"page"`
	Take *viewTake `json:"take"`
	// May lists what may be done now, from here.
	May      []session.Verb `json:"may"`
	Engraver bool           `json:"engraver"` // whether there is one
	Shared   bool           `json:"shared"`   // whether other machines reach the stand
	Problem  string         `json:"problem"`  // of the state's, what everybody may see
}

// notHere stands for a problem whose words are for the program's own user.
const notHere = "This cannot be done. The program says why, where it was started."

type viewPage struct {
	*session.Page
	// These tell of the machine's folders: they are for the program's own user.
	File  *string `json:"file,omitempty"`
	Again *string `json:"again,omitempty"`

	Count  int  `json:"count"`  // which page of this practice it is, from 1
	Scored bool `json:"scored"` // whether there is music to engrave
}

type viewTake struct {
	Start time.Duration `json:"start"` // on the session's clock
	End   time.Duration `json:"end"`   // from Start
	Words []string      `json:"words"`
	Left  bool          `json:"left"`
}

// verbs are all actions, in the order in which the page offers them.
var verbs = []session.Verb{
	session.DoStart, session.DoGo, session.DoLeave, session.DoKeep, session.DoDrill, session.DoAgain, session.DoChoose, session.DoStep,
	session.DoMark, session.DoStopped, session.DoKept, session.DoOffer, session.DoRecord, session.DoQuit,
}

// encode writes a state as a stand is told it.
func (s *Stand) encode(st *session.State) ([]byte, error) {
	v := view{State: *st, Engraver: s.engraver, Shared: s.shared}
	if st.Problem != "" {
		v.Problem = cmp.Or(st.Public, notHere)
	}
	if st.Page != nil {
		v.Page = &viewPage{Page: st.Page, Count: s.pages.count(st.Page), Scored: st.Page.For != nil}
	}
	if t := st.Take; t != nil {
		v.Take = &viewTake{t.Start, t.End, t.Words, t.Left}
	}
	for _, verb := range verbs {
		if st.May(verb) && s.allows(verb) {
			v.May = append(v.May, verb)
		}
	}
	return json.Marshal(v)
}

// pages counts the pages of a practice, so that a stand knows when there is another.
type pages struct {
	mu   sync.Mutex
	last *session.Page
	many int
}

func (p *pages) count(page *session.Page) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	if page != p.last {
		p.last = page
		p.many++
	}
	return p.many
}

// tellClock tells the session's clock, in milliseconds.
func (s *Stand) tellClock(w http.ResponseWriter) {
	w.Header().Set("Content-Type", "application/json")
	fmt.Fprintf(w, `{"now":%.3f}`, s.practice.Clock().Seconds()*1000)
}

// tellPage tells the page as MusicXML, for the part that is asked for: 404 where there is no
// such part, nothing (204) where the practice has gone on to another page, of which the
// stand hears in a moment.
func (s *Stand) tellPage(w http.ResponseWriter, r *http.Request) {
	part := r.URL.Query().Get("part")
	if len(part) > maxName {
		http.Error(w, "no such part", http.StatusNotFound)
		return
	}
	st := s.practice.State()
	if st.Page == nil || st.Page.For == nil || r.URL.Query().Get("count") != strconv.Itoa(s.pages.count(st.Page)) {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	text, err := st.Page.For(part)
	if err != nil {
		http.Error(w, "no such part", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "application/vnd.recordare.musicxml+xml")
	w.Write(text)
}

// A schedule is when what happens in a take.
type schedule struct {
	Start  time.Duration  `json:"start"`
	End    time.Duration  `json:"end"`
	Beats  []session.Beat `json:"beats"`
	Covers []change       `json:"covers"` // empty where the take is not under the cover
}

// A change hides measures and shows others, At after the start of the take.
type change struct {
	At   time.Duration `json:"at"`
	Hide []int         `json:"hide"`
	Show []int         `json:"show"`
}

// tellTake tells the take's schedule, nothing (204) where there is no take any more.
func (s *Stand) tellTake(w http.ResponseWriter) {
	st := s.practice.State()
	if st.Take == nil || st.Page == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	p := schedule{Start: st.Take.Start, End: st.Take.End, Beats: st.Take.Beats, Covers: []change{}}
	if st.Choice.Under("cover") {
		p.Covers = covers(st.Take.Beats, len(st.Page.Measures))
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(p)
}

// covers lists what the session's rule hides as the take goes on: the page applies it, and
// has no rule of its own.
func covers(beats []session.Beat, measures int) []change {
	list := []change{}
	hidden := make([]bool, measures)
	for _, b := range beats {
		now := session.Covered(beats, b.At, measures)
		if slices.Equal(now, hidden) {
			continue
		}
		c := change{At: b.At, Hide: []int{}, Show: []int{}}
		for i := range now {
			switch {
			case now[i] && !hidden[i]:
				c.Hide = append(c.Hide, i)
			case hidden[i] && !now[i]:
				c.Show = append(c.Show, i)
			}
		}
		list, hidden = append(list, c), now
	}
	return list
}
