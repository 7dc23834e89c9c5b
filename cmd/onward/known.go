package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/figure"
	"onward/theory"
)

// knownFigures is the name by which --figures means all that the journal knows of, each
// figure weighed by how well it is known.
const knownFigures = "known"

// A metFigure is a figure as the journal keeps when it was met.
type metFigure struct {
	Shape string `json:"shape"`
	Cell  string `json:"cell"`
	Key   string `json:"key"` // written
	Times int    `json:"times"`
	// Measures are those of a read in which it stands, counted from 0: a slip in one of
	// them is a slip of it.
	Measures []int `json:"measures,omitempty"`
}

// metInLesson encodes the figures that exercises held.
func metInLesson(l *figure.Lesson) ([]byte, error) {
	var all []metFigure
	for _, m := range l.Meetings {
		all = append(all, metFigure{Shape: m.Shape, Cell: m.Cell, Key: m.Key.String(), Times: m.Times})
	}
	return json.Marshal(all)
}

// metInRead encodes the figures that a read is made of.
func metInRead(r *compose.Read) ([]byte, error) {
	keys := make([]string, len(r.Score.Parts[0].Measures))
	key := theory.Key{}
	for i, m := range r.Score.Parts[0].Measures {
		if m.Key != nil {
			key = *m.Key
		}
		keys[i] = key.String()
	}
	var all []metFigure
	index := map[[3]string]int{}
	for _, f := range r.Figures {
		name := [3]string{f.Shape, f.Cell, keys[f.Measure]}
		i, met := index[name]
		if !met {
			i, index[name] = len(all), len(all)
			all = append(all, metFigure{Shape: f.Shape, Cell: f.Cell, Key: keys[f.Measure]})
		}
		all[i].Times++
		all[i].Measures = append(all[i].Measures, f.Measure)
	}
	return json.Marshal(all)
}

// practised reads from the journal when which figures were met.
func practised(ctx context.Context, j *journal.Journal) ([]figure.Practice, error) {
	kept, err := j.Practised(ctx)
	if err != nil {
		return nil, err
	}
	var all []figure.Practice
	for _, k := range kept {
		var figures []metFigure
		if err := json.Unmarshal(k.Figures, &figures); err != nil {
			return nil, fmt.Errorf("figures of take %d in the journal: %w", k.Take, err)
		}
		for _, f := range figures {
			key, err := theory.ParseKey(f.Key)
			if err != nil {
				return nil, fmt.Errorf("figures of take %d in the journal: %w", k.Take, err)
			}
			met := figure.Meeting{Figure: figure.Figure{Shape: f.Shape, Cell: f.Cell}, Key: key}
			clean, slipped := f.came(k.Marks)
			if met.Times = clean; clean > 0 {
				all = append(all, figure.Practice{At: k.At, Meeting: met})
			}
			if met.Times = slipped; slipped > 0 {
				all = append(all, figure.Practice{At: k.At, Meeting: met, Slipped: true})
			}
		}
	}
	return all, nil
}

// came counts how often the figure came out as written in a take with these marks, and how
// often it did not. The measure at which the player stopped did not; those after it were not
// played.
func (f *metFigure) came(m journal.Marks) (clean, slipped int) {
	bad := map[int]bool{}
	for _, s := range m.Slips {
		bad[s.Measure] = true
	}
	clean = f.Times
	for _, i := range f.Measures {
		switch played := m.StoppedAt == journal.NotStopped || i <= m.StoppedAt; {
		case !played:
			clean--
		case bad[i] || i == m.StoppedAt:
			clean--
			slipped++
		}
	}
	return clean, slipped
}

// known reports all that was saved, its figures weighed by how well they are known now.
func (r *drillReader) known() (*drilled, error) {
	var d drilled
	saved, err := r.journal.Vocabularies(r.ctx)
	if err != nil {
		return nil, err
	}
	for _, v := range saved {
		if strings.HasPrefix(v.Name, preparedName) {
			continue // a survey's, which nobody drilled
		}
		one, err := r.saved(v.Name)
		if err != nil {
			return nil, err
		}
		d.add(one)
	}
	all, err := practised(r.ctx, r.journal)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, askedf("--figures %s: nothing is known yet: learn exercises (onward learn FILE --save NAME), or play a read", knownFigures)
	}
	catalogue, err := r.catalogue.With(d.vocabulary.Own)
	if err != nil {
		return nil, asked(err, "")
	}
	d.vocabulary = d.vocabulary.Weighed(catalogue, figure.Knowing(all, r.now()))
	return &d, nil
}

// A knownItem is how well a figure is known, as the list gives it.
type knownItem struct {
	figure.Figure
	Keys  string    `json:"keys"`
	Share float64   `json:"share"` // 0 to 1
	Times int       `json:"times"`
	Last  time.Time `json:"last"`
}

// knownItems lists how well the figures of the journal at path are known, the best known
// first.
func knownItems(ctx context.Context, e *env, path string) (items []knownItem, err error) {
	var all []figure.Practice
	err = e.withJournal(ctx, path, func(j *journal.Journal) error {
		all, err = practised(ctx, j)
		return err
	})
	if err != nil {
		return nil, err
	}
	items = []knownItem{}
	for _, k := range figure.Knowing(all, e.now()) {
		items = append(items, knownItem{k.Figure, k.Family.String(), k.Share, k.Times, k.Last.UTC()})
	}
	return items, nil
}

// writeKnown writes the list as a table.
func writeKnown(w io.Writer, items []knownItem) error {
	if len(items) == 0 {
		_, err := io.WriteString(w, "nothing is known yet: learn exercises (onward learn FILE --save NAME), or play a read\n")
		return err
	}
	t := table{head: []string{"known", "times", "last met", "keys", "figure"}}
	for _, k := range items {
		t.add(fmt.Sprintf("%3.0f %%", 100*k.Share), fmt.Sprintf("%5d", k.Times), k.Last.Format("2006-01-02"), k.Keys, k.Shape+", on "+k.Cell)
	}
	return t.write(w)
}
