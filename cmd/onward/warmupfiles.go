package main

import (
	"fmt"
	"io"
	"time"

	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/warmup"
	"onward/midi/file"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// A warmupDocument is a warm-up for other programs.
type warmupDocument struct {
	Date     time.Time `json:"-"`
	Day      string    `json:"day"`
	Identity struct {
		Generator int    `json:"generator"`
		Seed      uint64 `json:"seed"`
		Request   string `json:"request"`
	} `json:"identity"`
	Instrument struct {
		ID   string `json:"id"`
		Name string `json:"name"`
		Clef string `json:"clef"`
	} `json:"instrument"`
	Rung  int `json:"rung"`
	Range struct {
		Low  string `json:"low"` // written
		High string `json:"high"`
	} `json:"range"`
	Key struct {
		Concert string `json:"concert"`
		Written string `json:"written"`
	} `json:"key"`
	Minutes int `json:"minutes"`
	Seconds struct {
		Total   int `json:"total"`
		Playing int `json:"playing"`
	} `json:"seconds"`
	Exercises []warmupExercise `json:"exercises"`
	// Returned counts the lines that had to come again within the days kept apart.
	Returned int      `json:"returned"`
	Cautions []string `json:"cautions"`
}

type warmupExercise struct {
	Family       warmup.Family  `json:"family"`
	Title        string         `json:"title"`
	Recipe       string         `json:"recipe"`
	Figure       *figure.Figure `json:"figure,omitempty"`
	Key          string         `json:"key"` // written, of the first line
	Meter        string         `json:"meter"`
	Rhythm       string         `json:"rhythm"`
	Articulation string         `json:"articulation"`
	Beat         string         `json:"beat"`
	BPM          int            `json:"bpm"`
	Times        int            `json:"times"`
	Seconds      float64        `json:"seconds"` // one time through, to a tenth
	Lines        []warmupLine   `json:"lines"`
}

type warmupLine struct {
	Key      string `json:"key"` // written
	Words    string `json:"words,omitempty"`
	Measure  int    `json:"measure"` // the number of its first, on the page
	Measures int    `json:"measures"`
}

// warmupCautions are what the player is told each day: rest as long as you play, in short
// blocks, and stop at pain or when the lip tires (teaching sources).
var warmupCautions = []string{
	"Rest as long as you play, each time.",
	"Breathe: finish on the next downbeat, stop, start again from it.",
	"Stop at pain, or when the lip tires.",
}

func newWarmupDocument(day string, d *warmup.Day) warmupDocument {
	doc := warmupDocument{Day: day, Rung: d.Rung, Minutes: d.Minutes, Returned: d.Returned, Cautions: warmupCautions}
	doc.Date, _ = time.Parse(time.DateOnly, day) // it was checked
	doc.Identity.Generator, doc.Identity.Seed = warmup.Version, d.Seed
	in := &d.Instrument
	doc.Identity.Request = fmt.Sprintf("warmup=%d day=%s seed=%d turn=%d instrument=%s rung=%d key=%q minutes=%d",
		warmup.Version, day, d.Seed, d.Turn, in.ID, d.Rung, d.Concert, d.Minutes)
	doc.Instrument.ID, doc.Instrument.Name, doc.Instrument.Clef = in.ID, in.Name, in.Clef.String()
	doc.Range.Low, doc.Range.High = d.Range.Low.String(), d.Range.High.String()
	doc.Key.Concert, doc.Key.Written = d.Concert.String(), d.Written.String()
	doc.Seconds.Total, doc.Seconds.Playing = int(d.Total().Seconds()), int(d.Playing().Seconds())
	measure := 1
	for i := range d.Exercises {
		e := &d.Exercises[i]
		x := warmupExercise{
			Family: e.Family, Title: e.Title, Recipe: e.Recipe(), Figure: e.Figure, Key: e.Key.String(), Meter: e.Meter.String(),
			Rhythm: e.Rhythm, Articulation: e.Tongue, Beat: beatWords(e.Meter), BPM: e.Tempo, Times: e.Times,
			Seconds: float64(e.Through().Round(100*time.Millisecond)/(100*time.Millisecond)) / 10,
		}
		for _, l := range e.Lines {
			x.Lines = append(x.Lines, warmupLine{l.Key.String(), l.Words, measure, len(l.Measures)})
			measure += len(l.Measures)
		}
		doc.Exercises = append(doc.Exercises, x)
	}
	return doc
}

// draft writes the warm-up's files beside their places.
func (o *warmupOptions) draft(d *warmup.Day, doc warmupDocument) (f *files, err error) {
	t, err := warmupTimeline(d, o.Drone || !o.Click, o.Click)
	if err != nil {
		return nil, err
	}
	if err := openFolder(o.Out); err != nil {
		return nil, err
	}
	f = &files{folder: o.Out}
	if f.name, err = o.name(doc.Identity.Request); err != nil {
		return nil, err
	}
	title := "Warm-up, " + doc.Date.Format("2 January 2006")
	subtitle := fmt.Sprintf("%s%s, %d minutes: rest as long as you play, each time", warmup.KeyWords(d.Written), concertWords(d), d.Minutes)
	page := d.Score(title, subtitle, doc.Identity.Request)
	return f, f.writeAll(
		part{pageSuffix, func(w io.Writer) error { return musicxml.Write(w, page) }},
		part{bandSuffix, func(w io.Writer) error { return file.Write(w, t, title, doc.Identity.Request) }},
		part{documentSuffix, func(w io.Writer) error { return writeJSON(w, doc) }},
	)
}

// name chooses the files' name: warmup and the day, and a number where another warm-up of
// that day lies in the folder.
func (o *warmupOptions) name(identity string) (string, error) {
	base := "warmup-" + o.Day
	folder := requestOptions{Out: o.Out}
	for i := 1; ; i++ {
		name := base
		if i > 1 {
			name = fmt.Sprintf("%s-%d", base, i)
		}
		if free, err := folder.free(name, identity); free || err != nil {
			return name, err
		}
	}
}

// The sound of drone and clicks; an organ's note neither dies away nor breathes.
const (
	droneProgram  = 19 // General MIDI: church organ, counted from 0
	droneVelocity = 56
	downbeatClick = 84
	otherClick    = 64
	lowestDrone   = 40 // E2: the tonic lies on it or up to D-sharp 3
)

// warmupTimeline is the warm-up as it sounds: a measure counted ahead of each time through,
// then drone or clicks; silence in the rests.
func warmupTimeline(d *warmup.Day, drone, click bool) (*timeline.Timeline, error) {
	part, kinds := d.Played()
	l, err := timeline.LayOut(&part, timeline.CountIn{})
	if err != nil {
		return nil, fmt.Errorf("warm-up: %w", err)
	}
	t := l.Timeline()
	var clicks []timeline.Tone
	for _, b := range t.Beats {
		kind := kinds[b.Measure].Kind
		if kind == warmup.Counted || click && kind == warmup.Playing {
			key, velocity := uint8(timeline.Click), uint8(otherClick)
			if b.Beat == 1 {
				key, velocity = timeline.ClickAccent, downbeatClick
			}
			clicks = append(clicks, timeline.Tone{At: b.At, Hold: rhythm.Sixteenth, Key: key, Velocity: velocity})
		}
	}
	var voices [][]timeline.Event
	add := func(name string, channel, program uint8, tones []timeline.Tone) {
		t.Tracks = append(t.Tracks, name)
		voices = append(voices, timeline.Voice{Track: uint8(len(t.Tracks) - 1), Channel: channel, Program: program}.Play(tones))
	}
	if drone {
		add("Drone", 0, droneProgram, droneTones(l, kinds))
	}
	add("Clicks", timeline.DrumsChannel, 0, clicks)
	t.Events = timeline.Merge(voices...)
	if err := t.Check(); err != nil {
		return nil, fmt.Errorf("warm-up: %w", err)
	}
	return t, nil
}

// droneTones hold tonic and fifth of each stretch in one key, from its count on.
func droneTones(l *timeline.Layout, kinds []warmup.Played) []timeline.Tone {
	var tones []timeline.Tone
	for from := 0; from < len(l.Measures); {
		key := l.Measures[from].Key.Tonic()
		to := from + 1
		for to < len(l.Measures) && kinds[to].Kind == warmup.Playing && l.Measures[to].Key.Tonic() == key {
			to++
		}
		if kinds[from].Kind != warmup.Resting {
			at := l.Measures[from].At
			root := lowestDrone + (key.Chroma()-lowestDrone%12+12)%12
			for _, semitones := range []int{0, theory.Fifth.Semitones} {
				tones = append(tones, timeline.Tone{At: at, Hold: l.Measures[to-1].End().Since(at), Key: uint8(root + semitones), Velocity: droneVelocity})
			}
		}
		from = to
	}
	return tones
}
