package tune

// A cut is where a section of a dance or strain starts, and how long its pickup is, in file
// ticks.
type cut struct{ start, pickup int }

// A shape is how a row's meter is taken: strains in 2/2 as 2/4 with halved values, dances in
// 2/2 and both in 4/4 as twice as many measures of 2/4.
type shape struct {
	beats, unit int
	divide      int // file ticks to a tick
	whole       int // measures of the row that make 8 of the tune
}

func (r *Row) shape() (shape, bool) {
	switch m := r.Meter; {
	case r.Kind == "march" && m == [2]int{2, 2}:
		return shape{2, 4, 4, 8}, true
	case m == [2]int{4, 4} || m == [2]int{2, 2}:
		return shape{2, 4, 2, 4}, true
	case m == [2]int{2, 4} || m == [2]int{6, 8} || m == [2]int{3, 4}:
		return shape{m[0], m[1], 2, 8}, true
	}
	return shape{}, false
}

// sections reports the sections of 8 measures of a dance or strain, and each pair of them
// that stands together as one tune of 16.
func (r *Row) sections() []*Tune {
	s, ok := r.shape()
	if !ok {
		return nil
	}
	length := r.measure()
	cuts := r.cuts(length, s.whole)
	end := func(k, measures int) int {
		end := cuts[k].start + measures*length
		next := k + measures/s.whole
		if next < len(cuts) && cuts[next].start == end {
			end -= cuts[next].pickup // what leads over to the next section is its own
		}
		return end
	}
	var all []*Tune
	add := func(k, tuneMeasures, rowMeasures int) {
		if t := r.section(s, cuts[k], end(k, rowMeasures), tuneMeasures); t != nil {
			all = append(all, t)
		}
	}
	for k := range cuts {
		add(k, 8, s.whole)
	}
	for k := 0; k+1 < len(cuts); k++ {
		if cuts[k+1].start == cuts[k].start+s.whole*length {
			add(k, 16, 2*s.whole)
			k++
		}
	}
	return all
}

// section makes a tune of what lies between a cut and an end; nil if it has few notes, or
// one that the ticks do not hold, or no mode that is known.
func (r *Row) section(s shape, c cut, end, measures int) *Tune {
	notes, ok := between(r.Notes, c.start, c.start-c.pickup, end, s.divide)
	if !ok || len(notes) < 3*measures/4 {
		return nil
	}
	k := key{mod(7*r.Fifths, 12), false}
	switch {
	case r.Kind == "march" && r.Mode != "minor":
		k.tonic = r.home()
	case r.Mode == "minor":
		k = key{mod(7*r.Fifths+9, 12), true}
	case r.Mode != "major":
		return nil
	}
	return r.tune(s, measures, c.start, notes, k)
}

// A bar is the start of a measure, whether a section opens with it, and its pickup.
type bar struct {
	start  int
	opens  bool
	pickup int
}

// bars joins measures that a repeat sign splits in two: a section opens at the second half.
func (r *Row) bars(length int) []bar {
	var grid []bar
	opens, pickup, k := true, 0, 0
	if first := r.Notes[0][0]; first-r.Bars[0] >= length/2 {
		pickup, k = r.Bars[0]+length-first, 1
	}
	for ; k < len(r.Bars); k++ {
		grid = append(grid, bar{r.Bars[k], opens, pickup})
		opens, pickup = false, 0
		size := length
		if k+1 < len(r.Bars) {
			size = r.Bars[k+1] - r.Bars[k]
		}
		if size >= length {
			continue
		}
		opens = true
		if k+2 < len(r.Bars) && r.Bars[k+2]-r.Bars[k] == length {
			pickup = length - size
			k++
		}
	}
	return grid
}

// cuts reports where sections of so many measures start: where a measure is split by a
// repeat sign, and else one after the other.
func (r *Row) cuts(length, measures int) []cut {
	grid := r.bars(length)
	var all []cut
	count := 0
	for at, b := range grid {
		if b.opens {
			count = 0
		}
		if count%measures == 0 && at+measures <= len(grid) && !anyOpens(grid[at+1:at+measures]) {
			pickup := b.pickup
			if !b.opens {
				pickup = r.hiddenPickup(b.start, length)
			}
			all = append(all, cut{b.start, pickup})
		}
		count++
	}
	return all
}

func anyOpens(bars []bar) bool {
	for _, b := range bars {
		if b.opens {
			return true
		}
	}
	return false
}

// hiddenPickup reports the length of the pickup to a phrase that starts inside a tune:
// short notes after a long one.
func (r *Row) hiddenPickup(start, length int) int {
	for i, n := range r.Notes {
		if n[0] > start-length/2 && n[0] < start {
			if i > 0 && r.Notes[i-1][1] >= fileTicks {
				return start - n[0]
			}
			return 0
		}
	}
	return 0
}

// between reports the notes that begin from start and before end, in ticks after zero, the
// last cut at the end; false where there is none or one does not fall on a tick.
func between(notes [][3]int, zero, start, end, divide int) ([][3]int, bool) {
	var all [][3]int
	for _, n := range notes {
		if n[0] < start || n[0] >= end {
			continue
		}
		ticks := min(n[1], end-n[0])
		if (n[0]-zero)%divide != 0 || ticks%divide != 0 {
			return nil, false
		}
		all = append(all, [3]int{(n[0] - zero) / divide, ticks / divide, n[2]})
	}
	return all, len(all) > 0
}
