package rhythm

// BeamGroups reports how a measure falls into groups, in order: the longest stretches
// that one beam may hold and that written values do not run across, unless they fill
// the measure. 2/4 is one group, 4/4 and cut time two halves, 3/4 and 3/8 the whole
// measure, 6/8 two dotted quarters, 5/4 three beats and two, 7/8 two, two and three.
// Source: common practice of engravers (from memory).
func BeamGroups(m Meter) []Duration {
	var groups []Duration
	for _, n := range m.beamCounts() {
		groups = append(groups, Duration(n)*m.Beat())
	}
	return groups
}

// beamCounts reports how many felt beats each beam group holds.
func (m Meter) beamCounts() []int {
	if m.Compound() || m.Unit == 2 {
		return repeat(1, m.Count())
	}
	return m.feltCounts()
}

// feltCounts reports the twos and threes that the felt beats of a measure are counted
// in.
func (m Meter) feltCounts() []int {
	beats := m.Count()
	switch {
	case beats == 7 && m.Unit >= 8:
		return []int{2, 2, 3}
	case beats%3 == 0:
		return repeat(3, beats/3)
	case beats%2 == 0:
		return repeat(2, beats/2)
	case beats == 1:
		return []int{1}
	}
	return append([]int{3}, repeat(2, (beats-3)/2)...) // 5/4, 5/8, 7/4
}

func repeat(n, times int) []int {
	list := make([]int, times)
	for i := range list {
		list[i] = n
	}
	return list
}

// spellGroup reports the stretch of the measure around at that a value may not run out
// of: its start and how many felt beats it holds. Up to four beats are one stretch,
// whose middle Spell guards by other rules.
func (m Meter) spellGroup(at Offset) (start Offset, beats int) {
	if m.Count() <= 4 {
		return 0, m.Count()
	}
	for _, n := range m.feltCounts() {
		end := start.Add(Duration(n) * m.Beat())
		if at < end {
			return start, n
		}
		start = end
	}
	return start, 0
}
