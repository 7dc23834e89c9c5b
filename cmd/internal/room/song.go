package room

import (
	"sort"
	"strconv"

	"onward/cmd/internal/session"
)

// A song is what is known of a page and its take before the first beat, so that little is
// left to do on each.
type song struct {
	page *session.Page
	take *session.Running

	number, beat string // as wide as any number of a measure, or of a beat
	last         int    // the highest number
	counts       int    // measures of the count-in
	ordinal      []int  // of each beat: the how manyth measure played, 0 ahead of the first
	turn         []int  // of each beat: the next beat where section or way changes, or len
}

// of prepares for the state's page and take, unless it has.
func (s *song) of(st *session.State) {
	if s.page == st.Page && s.take == st.Take {
		return
	}
	*s = song{page: st.Page, take: st.Take, number: "0", beat: "0"}
	if s.page != nil {
		for _, m := range s.page.Measures {
			s.last = max(s.last, m.Number)
		}
		s.number = nines(s.last)
	}
	if s.take != nil {
		s.prepare(s.take.Beats)
	}
}

func (s *song) prepare(beats []session.Beat) {
	s.ordinal, s.turn = make([]int, len(beats)), make([]int, len(beats))
	most, played := 0, 0
	for i, b := range beats {
		most = max(most, b.Beat)
		if b.Measure < 0 {
			s.counts = max(s.counts, b.Number)
			continue
		}
		if i == 0 || beats[i-1].Measure != b.Measure || beats[i-1].Pass != b.Pass || b.Beat <= beats[i-1].Beat {
			played++
		}
		s.ordinal[i] = played
	}
	s.beat = nines(most)
	turn := len(beats)
	for i := len(beats) - 1; i >= 0; i-- {
		s.turn[i] = turn
		if i > 0 && s.turns(beats[i-1], beats[i]) {
			turn = i
		}
	}
}

// turns reports whether at beat b another section begins, or the take goes another way than
// on to the next measure.
func (s *song) turns(before, b session.Beat) bool {
	if before.Measure < 0 || b.Measure < 0 {
		return b.Measure >= 0
	}
	if b.Measure == before.Measure {
		return b.Pass != before.Pass
	}
	return b.Measure != before.Measure+1 || s.section(b.Measure) != s.section(before.Measure) ||
		s.begins(b.Measure)
}

// section is the name of the section in which a measure stands, "" for none.
func (s *song) section(measure int) string {
	if s.page == nil || measure < 0 || measure >= len(s.page.Measures) {
		return ""
	}
	all := s.page.Measures
	if all[measure].Section == "" && s.upbeat(measure) && measure+1 < len(all) {
		measure++
	}
	return all[measure].Section
}

// upbeat reports whether the measure is an upbeat, which belongs to the measure after it.
func (s *song) upbeat(measure int) bool {
	return s.page != nil && measure >= 0 && measure < len(s.page.Measures) && s.page.Measures[measure].Number == 0
}

// begins reports whether a section begins with the measure, or with the upbeat that it is.
func (s *song) begins(measure int) bool {
	if s.page == nil || measure < 0 || measure >= len(s.page.Measures) || s.upbeat(measure-1) {
		return false
	}
	all := s.page.Measures
	return all[measure].First || s.upbeat(measure) && measure+1 < len(all) && all[measure+1].First
}

// nines is a number as wide as n.
func nines(n int) string {
	s := []byte(strconv.Itoa(max(n, 0)))
	for i := range s {
		s[i] = '9'
	}
	return string(s)
}

// find looks up the beat that the take has come to, and reports the index of the next.
func (r *room) find() int {
	t := r.state.Take
	at := r.now - t.Start
	next := sort.Search(len(t.Beats), func(i int) bool { return t.Beats[i].At > at })
	if before := r.place; next-1 != before {
		r.place = next - 1
		r.cover(before)
	}
	return next
}

// cover finds which measures are covered, where the take has come to another measure.
func (r *room) cover(before int) {
	st := &r.state
	if !st.Choice.Under("cover") || st.Page == nil || r.place < 0 || r.place >= len(r.song.ordinal) {
		return
	}
	if r.covered != nil && before >= 0 && before < len(r.song.ordinal) && r.song.ordinal[before] == r.song.ordinal[r.place] {
		return
	}
	r.covered = session.Covered(st.Take.Beats, st.Take.Beats[r.place].At, len(st.Page.Measures))
}
