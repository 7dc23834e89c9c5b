package idiom

// phrase is how many measures a phrase has.
const phrase = 4

// Fit reports the form made n measures long, or nil if it is more than four times as long or
// n is below 4: a longer form loses measures ahead of its last phrase, a shorter one goes on
// with itself, opening alike, as often as needed.
func (f *Form) Fit(n int) *Form {
	switch size := len(f.Measures); {
	case size == n:
		return f
	case n < size && 4*n >= size && n >= phrase:
		return f.cut(n)
	case n > 2*size:
		return f.extend(2 * size).Fit(n)
	case n > size:
		return f.extend(n)
	}
	return nil
}

// cut keeps the last phrase and what goes before it from the start.
func (f *Form) cut(n int) *Form {
	out, size := *f, len(f.Measures)
	out.Measures = make([]Measure, 0, n)
	place := make([]int, size) // where each measure is now, or None
	for i := range f.Measures {
		place[i] = None
		if i < n-phrase || i >= size-phrase {
			place[i] = len(out.Measures)
			out.Measures = append(out.Measures, f.Measures[i])
		}
	}
	for i := range out.Measures {
		m := &out.Measures[i]
		if m.Kind == New {
			continue
		}
		if m.Source = place[m.Source]; m.Source == None {
			m.Kind, m.Source, m.Value = New, 0, 0
		}
	}
	if n <= phrase {
		out.First = None
	}
	return &out
}

// extend goes on with the form until there are n measures: it opens as before, and then has
// the same relations among new measures.
func (f *Form) extend(n int) *Form {
	out, size := *f, len(f.Measures)
	out.Measures = append(make([]Measure, 0, n), f.Measures...)
	from := 2*size - n // so that the end is the form's own
	for i := from; i < size; i++ {
		m := f.Measures[i]
		at := len(out.Measures)
		switch {
		case at < size+phrase/2 && at < n-phrase:
			m.Kind, m.Source, m.Value = Same, at-size, 0
		case m.Kind != New && m.Source >= from:
			m.Source += at - i
		}
		out.Measures = append(out.Measures, m)
	}
	return &out
}

// Ending reports the form with another end: on the tonic over its chord, or on the fifth
// degree over the dominant.
func (f *Form) Ending(closes bool) *Form {
	out := *f
	out.Measures = append([]Measure(nil), f.Measures...)
	last := &out.Measures[len(out.Measures)-1]
	last.Kind, last.Source, last.Value, last.Silent = New, 0, 0, false
	last.Chord, last.End = V, 4
	if closes {
		last.Chord, last.End = I, 0
	}
	return &out
}
