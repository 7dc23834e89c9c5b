package tune

import "sort"

// windows reports the stretches of 8, 16 and 32 measures of a song that start at an entry
// and end in a long note or a rest: those that close on the tonic, and of 8 measures also
// those that stay open.
func (r *Row) windows() []*Tune {
	s := shape{r.Meter[0], r.Meter[1], 2, 8}
	if r.Meter == [2]int{2, 2} {
		s = shape{4, 4, 2, 8}
	}
	var all []*Tune
	for _, measures := range []int{8, 16, 32} {
		all = append(all, r.windowsOf(s, measures, (*Tune).endsOnTonic)...)
	}
	return append(all, r.windowsOf(s, 8, (*Tune).endsOpen)...)
}

// endsOnTonic reports whether the last note is the tonic.
func (t *Tune) endsOnTonic() bool { return mod(t.Notes[len(t.Notes)-1].Step, 7) == 0 }

// endsOpen reports whether the last note is one of the dominant's: 2, 5 or 7.
func (t *Tune) endsOpen() bool {
	d := mod(t.Notes[len(t.Notes)-1].Step, 7)
	return d == 1 || d == 4 || d == 6
}

// entries reports the notes that a phrase may begin with: after a long note or a rest.
func (r *Row) entries() []int {
	all := []int{0}
	for k := 1; k < len(r.Notes); k++ {
		before := r.Notes[k-1]
		if before[1] >= fileTicks*3/2 || r.Notes[k][0]-before[0]-before[1] >= fileTicks/2 {
			all = append(all, k)
		}
	}
	return all
}

// windowsOf reports the windows of so many measures, none of which overlap, that are to be
// kept.
func (r *Row) windowsOf(s shape, measures int, keep func(*Tune) bool) []*Tune {
	length := r.measure()
	var all []*Tune
	free := r.Bars[0] - length
	for _, k := range r.entries() {
		onset := r.Notes[k][0]
		bar := max(0, sort.SearchInts(r.Bars, onset+1)-1)
		offset := onset - r.Bars[bar]
		if onset < free || offset > length/4 && offset < length/2 {
			continue
		}
		if offset >= length/2 {
			bar++
		}
		if !r.regular(bar, measures, length) {
			continue
		}
		if t := r.window(s, measures, r.Bars[bar], min(onset, r.Bars[bar])); t != nil && keep(t) {
			all = append(all, t)
			free = r.Bars[bar] + measures*length
		}
	}
	return all
}

// regular reports whether so many measures of one length follow from bar on.
func (r *Row) regular(bar, measures, length int) bool {
	if bar+measures > len(r.Bars) {
		return false
	}
	for i := range measures {
		if r.Bars[bar+i] != r.Bars[bar]+i*length {
			return false
		}
	}
	return true
}

// window makes a tune of the measures from start on, with the pickup from entry on; nil if
// it is not whole.
func (r *Row) window(s shape, measures, start, entry int) *Tune {
	length := r.measure()
	end := start + measures*length
	var inside [][3]int
	for _, n := range r.Notes {
		if n[0] >= entry && n[0] < end {
			if k := len(inside); k > 0 && n[0]-inside[k-1][0]-inside[k-1][1] >= length*3/2 {
				return nil // an interlude
			}
			inside = append(inside, n)
		}
	}
	if len(inside) == 0 {
		return nil
	}
	if last := inside[len(inside)-1]; end-last[0]-last[1] < fileTicks/2 {
		for len(inside) > 1 && inside[len(inside)-1][1] < fileTicks {
			inside = inside[:len(inside)-1] // already the pickup of the next phrase
		}
	}
	if len(inside) < 3*measures/2 || inside[len(inside)-1][0] < end-length {
		return nil
	}
	notes, ok := between(inside, start, entry, end, s.divide)
	if !ok {
		return nil
	}
	t := r.tune(s, measures, start, notes, estimateKey(notes))
	on := 0
	for _, n := range t.Notes {
		if d := mod(n.Step, 7); n.Alter == 0 || t.Minor && d >= 5 {
			on++
		}
	}
	if 100*on < 85*len(t.Notes) {
		return nil
	}
	return t
}
