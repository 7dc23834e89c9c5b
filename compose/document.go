package compose

import (
	"fmt"
	"strconv"

	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// A Document is all that is known of a read beside its page and its band, for other
// programs: its JSON names do not change. Measures are printed numbers; a beat is
// counted in felt beats from 1, and stands beside its ticks.
type Document struct {
	Title       string             `json:"title"`
	Identity    DocumentIdentity   `json:"identity"`
	Style       string             `json:"style"`
	Rung        int                `json:"rung"`
	Instrument  DocumentInstrument `json:"instrument"`
	Key         DocumentKey        `json:"key"`
	Meter       string             `json:"meter"` // "6/8", "cut"
	Tempo       DocumentTempo      `json:"tempo"`
	Measures    int                `json:"measures"` // as written
	Sections    []DocumentSection  `json:"sections"`
	Chords      []DocumentChord    `json:"chords"`
	Figures     []DocumentFigure   `json:"figures"`
	Traps       []DocumentTrap     `json:"traps"`
	Breaths     []DocumentBreath   `json:"breaths"`
	Load        []float64          `json:"load"`        // of each measure as written, figures a second
	Difficulty  float64            `json:"difficulty"`  // the whole read's, as one figure
	Coverage    *float64           `json:"coverage"`    // 0 to 1; null without a vocabulary
	LegalLog10  float64            `json:"legal_log10"` // of the melodies there were to draw from
	Certificate DocumentProof      `json:"certificate"` // that nothing in it was seen before
	Fresh       []string           `json:"fresh"`       // what it carries of what its rung adds
	Loosened    []string           `json:"loosened"`    // plans that could not be kept
	Aims        *DocumentAims      `json:"aims,omitempty"`
}

// A DocumentAims is what was asked of how much is known, and what the read has of it.
type DocumentAims struct {
	Coverage *DocumentShare `json:"coverage,omitempty"`
	Traps    *DocumentCount `json:"traps,omitempty"`
	New      *DocumentCount `json:"new,omitempty"`
	Figures  []string       `json:"new_figures"` // kinds of figures that are not known
}

// A DocumentShare is a share of the notes asked for and had, 0 to 1.
type DocumentShare struct {
	Asked float64 `json:"asked"`
	Had   float64 `json:"had"`
}

// A DocumentCount is a number asked for and had.
type DocumentCount struct {
	Asked int `json:"asked"`
	Had   int `json:"had"`
}

// aims reports what was asked and what the read has; nil where nothing was.
func (r *Read) aims() *DocumentAims {
	a := r.Request.Aims
	if !a.given() {
		return nil
	}
	d := &DocumentAims{Figures: []string{}}
	if a.Coverage != nil {
		d.Coverage = &DocumentShare{*a.Coverage, r.Met.Coverage}
	}
	if a.Traps != nil {
		d.Traps = &DocumentCount{*a.Traps, r.Met.Traps}
	}
	if a.New != nil {
		d.New = &DocumentCount{*a.New, len(r.Met.New)}
	}
	for _, f := range r.Met.New {
		d.Figures = append(d.Figures, f.Shape+" on "+f.Cell)
	}
	return d
}

// A DocumentIdentity is what makes the read again.
type DocumentIdentity struct {
	Seed    uint64 `json:"seed"`
	Request string `json:"request"` // the whole identity in one line, as in the other files
	Version int    `json:"generator_version"`
}

// A DocumentInstrument is whom the read is for.
type DocumentInstrument struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Clef string `json:"clef"`
}

// A DocumentKey is a key as it sounds and as the instrument reads it.
type DocumentKey struct {
	Concert string `json:"concert"`
	Written string `json:"written"`
}

// A DocumentTempo is felt beats a minute, and the note that is felt: "4", "4.", "2".
type DocumentTempo struct {
	BPM  int    `json:"bpm"`
	Beat string `json:"beat"`
}

// A DocumentSection is a strain.
type DocumentSection struct {
	Name     string           `json:"name"`
	Measure  int              `json:"measure"` // its first
	Measures int              `json:"measures"`
	Key      DocumentKey      `json:"key"`
	Dynamic  string           `json:"dynamic"`
	Again    string           `json:"dynamic_on_repeat,omitempty"`
	Repeat   bool             `json:"repeat"`
	Endings  bool             `json:"endings"`
	Phrases  []DocumentPhrase `json:"phrases"`
}

// A DocumentPhrase is one phrase.
type DocumentPhrase struct {
	Measure  int    `json:"measure"`
	Measures int    `json:"measures"`
	Letter   string `json:"letter"`
	Cadence  string `json:"cadence"`
}

// A DocumentPlace is a point of the page.
type DocumentPlace struct {
	Measure int    `json:"measure"`
	Beat    string `json:"beat"`  // "1", "2+1/2"
	Ticks   int64  `json:"ticks"` // from the barline, 10,080 to the quarter
}

// A DocumentChord is the harmony from a place on, in concert pitch.
type DocumentChord struct {
	DocumentPlace
	Chord string `json:"chord"`
}

// A DocumentFigure is one figure in its place. Known is whether the player drilled it.
type DocumentFigure struct {
	Name string `json:"name"` // shape and cell in one
	figure.Figure
	DocumentPlace
	Notes int  `json:"notes"`
	Known bool `json:"known"`
	Trap  bool `json:"trap,omitempty"`
}

// A DocumentTrap is a figure that starts like a known one and leaves it.
type DocumentTrap struct {
	Measure int    `json:"measure"`
	Shape   string `json:"shape"`
	Like    string `json:"like"`
	Words   string `json:"words"`
}

// A DocumentBreath is a place to breathe: before what stands there. Where it is not
// marked a rest gives it.
type DocumentBreath struct {
	DocumentPlace
	Marked bool `json:"marked"`
}

// A DocumentProof is the certificate that the read was never seen: no run of Length
// notes returns.
type DocumentProof struct {
	Length   int `json:"length"`
	Compared int `json:"compared"` // runs of the read that were looked for
	Against  int `json:"against"`  // drilled and recent runs, one by one
	// Earlier is how many earlier reads the runs were looked up among.
	Earlier int `json:"earlier_reads"`
	Longest int `json:"longest_shared"` // in notes
	// SharedMeasures is how many of the read's measures stand in the earlier read that has
	// most of them.
	SharedMeasures int `json:"shared_measures"`
}

// Document reports what is known of the read. earlier is how many reads it was kept
// clear of.
func (r *Read) Document(earlier int) Document {
	in := r.Request.Instrument
	c := r.Certificate
	d := Document{
		Title: r.Title, Style: r.Style.Name, Rung: r.Rung, Meter: r.Meter.String(),
		Identity:   DocumentIdentity{r.Seed, r.Identity, Version},
		Instrument: DocumentInstrument{in.ID, in.Name, in.Clef.String()},
		Key:        r.documentKey(r.Key),
		Tempo:      DocumentTempo{r.Tempo, r.Meter.BeatValue().String()},
		Measures:   len(r.Score.Parts[0].Measures),
		Sections:   []DocumentSection{}, Chords: []DocumentChord{}, Figures: []DocumentFigure{},
		Traps: []DocumentTrap{}, Breaths: []DocumentBreath{},
		Load: append([]float64{}, r.Load...), Difficulty: r.Difficulty(), LegalLog10: r.LegalLog10,
		Certificate: DocumentProof{c.Length, c.Compared, c.Against, earlier, c.Longest, c.Shared},
		Fresh:       append([]string{}, r.Fresh...), Loosened: append([]string{}, r.Loosened...), Aims: r.aims(),
	}
	if r.Request.Vocabulary != nil {
		d.Coverage = &r.Coverage
	}
	r.documentForm(&d)
	r.documentPlaces(&d)
	return d
}

func (r *Read) documentForm(d *Document) {
	for _, s := range r.Sections {
		out := DocumentSection{Name: s.Name, Measure: r.number(s.First), Measures: s.Measures, Key: r.documentKey(s.Key),
			Dynamic: s.Dynamic, Again: s.Again, Repeat: s.Repeat, Endings: s.Endings, Phrases: []DocumentPhrase{}}
		for _, p := range s.Phrases {
			out.Phrases = append(out.Phrases, DocumentPhrase{r.number(p.First), p.Measures, p.Letter, p.Cadence})
		}
		d.Sections = append(d.Sections, out)
	}
}

func (r *Read) documentPlaces(d *Document) {
	for _, c := range r.Chords {
		d.Chords = append(d.Chords, DocumentChord{r.place(c.Measure, c.At), c.Chord.String()})
	}
	for _, f := range r.Figures {
		name := f.Shape + " on " + f.Cell
		d.Figures = append(d.Figures, DocumentFigure{name, f.Figure, r.place(f.Measure, f.At), f.Notes, f.Known, f.Trap})
	}
	for _, t := range r.Traps {
		d.Traps = append(d.Traps, DocumentTrap{r.number(t.Measure), t.Shape, t.Like, t.Words})
	}
	for _, b := range r.Breaths {
		d.Breaths = append(d.Breaths, DocumentBreath{r.place(b.Measure, b.At), b.Marked})
	}
}

// number reports the printed number of a measure by its index.
func (r *Read) number(index int) int { return r.Score.Parts[0].Measures[index].Number }

func (r *Read) documentKey(concert theory.Key) DocumentKey {
	return DocumentKey{concert.String(), r.Written(concert).String()}
}

// Written reports a concert key as the read's instrument reads it.
func (r *Read) Written(concert theory.Key) theory.Key {
	in := r.Request.Instrument
	return beside(writtenKey(concert, in), writtenKey(r.Key, in))
}

func (r *Read) place(measure int, at rhythm.Offset) DocumentPlace {
	return DocumentPlace{r.number(measure), beatAt(r.Meter, at), int64(at)}
}

// beatAt counts felt beats from 1, what is left as a fraction: "2", "1+1/2", "3+2/3".
func beatAt(m rhythm.Meter, at rhythm.Offset) string {
	beat := int64(m.Beat())
	whole, rest := int64(at)/beat+1, int64(at)%beat
	if rest == 0 {
		return strconv.FormatInt(whole, 10)
	}
	a, b := beat, rest
	for b != 0 {
		a, b = b, a%b
	}
	return fmt.Sprintf("%d+%d/%d", whole, rest/a, beat/a)
}
