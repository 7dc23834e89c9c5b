package theory

// Harmonic reports the n-th degree, counted as in Degree, of the scale that harmony
// in this key is made of: in minor with the leading tone raised.
func (k Key) Harmonic(n int) Class {
	c := k.Degree(n)
	if k.Mode == Minor && mod(n, 7) == 0 {
		c.Alter++
	}
	return c
}

// Melodic reports the n-th degree, counted as in Degree, of the scale that rises to
// the tonic: in minor with the sixth and seventh raised.
func (k Key) Melodic(n int) Class {
	c := k.Degree(n)
	if d := mod(n, 7); k.Mode == Minor && (d == 6 || d == 0) {
		c.Alter++
	}
	return c
}

// LeadingTone reports the seventh degree a half step under the tonic.
func (k Key) LeadingTone() Class { return k.Harmonic(7) }

// Triads by degree. In minor the dominant and the leading-tone triad have the raised
// leading tone and the others do not, as in common practice: i, ii dim, III, iv, V,
// VI, vii dim.
var triads = [2][7]Quality{
	Major: {MajorTriad, MinorTriad, MinorTriad, MajorTriad, MajorTriad, MinorTriad, DiminishedTriad},
	Minor: {MinorTriad, DiminishedTriad, MajorTriad, MinorTriad, MajorTriad, MajorTriad, DiminishedTriad},
}

// Triad reports the triad on a degree, counted as in Degree. In minor it is i, ii dim,
// III, iv, V, VI, vii dim: 5 and 7 with the raised leading tone.
func (k Key) Triad(degree int) Chord {
	root := k.Degree(degree)
	if mod(degree, 7) == 0 {
		root = k.LeadingTone()
	}
	return Chord{root, triads[k.Mode][mod(degree-1, 7)]}
}

// DominantSeventh reports the seventh chord on the fifth degree: F7 in B-flat major
// and in B-flat minor, whose leading tone is raised for it.
func (k Key) DominantSeventh() Chord { return Chord{k.Degree(5), DominantSeventh} }

// Applied reports the dominant seventh that leads to the triad on a degree: in
// B-flat major C7 for degree 5.
func (k Key) Applied(degree int) Chord {
	return Chord{k.Triad(degree).Root.Transpose(Fifth), DominantSeventh}
}
