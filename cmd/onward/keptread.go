package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"onward/compose"
	"onward/compose/figure"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A keptRequest is all that made a read, as the journal keeps it, so that the read can be
// made again whatever was learned since, or has become of the files that were given.
type keptRequest struct {
	Generator  int          `json:"generator"`
	Seed       uint64       `json:"seed"`
	Style      string       `json:"style"`
	Sheet      []byte       `json:"sheet,omitempty"` // of the player's own style
	Rung       int          `json:"rung"`
	Instrument string       `json:"instrument"`
	Key        string       `json:"key,omitempty"` // concert
	Meter      string       `json:"meter,omitempty"`
	Form       string       `json:"form,omitempty"`
	Measures   int          `json:"measures,omitempty"`
	Tempo      int          `json:"tempo,omitempty"`
	Aims       compose.Aims `json:"aims,omitzero"`
}

// A keptDrilled is what had been drilled when a read was made.
type keptDrilled struct {
	Vocabulary []byte `json:"vocabulary,omitempty"` // TOML
	Drills     []byte `json:"drills,omitempty"`     // lines
}

// encodeRequest is the request as the journal keeps it. sheet is the text of a sheet of the
// player's own, nil for one of the program's.
func encodeRequest(req compose.Request, sheet []byte) (request, drilled []byte, err error) {
	k := keptRequest{Generator: compose.Version, Seed: req.Seed, Style: req.Style.Name, Sheet: sheet, Rung: req.Rung,
		Instrument: req.Instrument.ID, Form: req.Form, Measures: req.Measures, Tempo: req.Tempo, Aims: req.Aims}
	if req.Key != nil {
		k.Key = req.Key.String()
	}
	if req.Meter != nil {
		k.Meter = req.Meter.String()
	}
	request, err = json.Marshal(k)
	if err != nil || req.Vocabulary == nil && len(req.Drills) == 0 {
		return request, nil, err
	}
	var d keptDrilled
	if req.Vocabulary != nil {
		var b bytes.Buffer
		if err := figure.WriteVocabulary(&b, *req.Vocabulary); err != nil {
			return nil, nil, err
		}
		d.Vocabulary = b.Bytes()
	}
	if len(req.Drills) > 0 {
		d.Drills = encodeLines(req.Drills)
	}
	drilled, err = json.Marshal(d)
	return request, drilled, err
}

// decodeRequest takes encodeRequest back, with the catalogue that the request goes with.
func decodeRequest(text, drilled []byte) (req compose.Request, c *figure.Catalogue, sheet []byte, err error) {
	var k keptRequest
	var d keptDrilled
	c = figure.Default()
	if err := json.Unmarshal(text, &k); err != nil {
		return req, c, nil, err
	}
	if drilled != nil {
		if err := json.Unmarshal(drilled, &d); err != nil {
			return req, c, nil, err
		}
	}
	if k.Generator != compose.Version {
		return req, c, nil, askedf("it was made by generator %d, and this is generator %d, which makes other reads: its files are what is left of it",
			k.Generator, compose.Version)
	}
	req = compose.Request{Seed: k.Seed, Rung: k.Rung, Form: k.Form, Measures: k.Measures, Tempo: k.Tempo, Aims: k.Aims}
	if len(k.Sheet) > 0 {
		req.Style, err = styles.Parse(k.Style+".toml", k.Sheet)
	} else {
		req.Style, err = styles.Shipped(k.Style)
	}
	if err != nil {
		return req, c, nil, err
	}
	if req.Instrument, err = theory.InstrumentByID(k.Instrument); err != nil {
		return req, c, nil, err
	}
	if k.Key != "" {
		key, err := theory.ParseKey(k.Key)
		if err != nil {
			return req, c, nil, err
		}
		req.Key = &key
	}
	if k.Meter != "" {
		m, err := rhythm.ParseMeter(k.Meter)
		if err != nil {
			return req, c, nil, err
		}
		req.Meter = &m
	}
	if len(d.Vocabulary) > 0 {
		v, err := c.ReadVocabulary(bytes.NewReader(d.Vocabulary), "its vocabulary")
		if err != nil {
			return req, c, nil, err
		}
		req.Vocabulary = &v
		if c, err = c.With(v.Own); err != nil {
			return req, c, nil, err
		}
	}
	if len(d.Drills) > 0 {
		if req.Drills, err = decodeLines(d.Drills); err != nil {
			return req, c, nil, err
		}
	}
	return req, c, k.Sheet, nil
}

// settleAgain settles a studio whose read is in the journal, to be made as it was.
func (s *studio) settleAgain(ctx context.Context) error {
	text, drilled, err := s.journal.Request(ctx, s.o.Again)
	if err != nil {
		return asked(err, "")
	}
	var sheet []byte
	s.req, s.world.Catalogue, sheet, err = decodeRequest(text, drilled)
	if err != nil {
		return asked(fmt.Errorf("read %d of the journal: %w", s.o.Again, err), "")
	}
	s.sheet, s.mark = sheet, sheetMark(sheet)
	return s.remember(ctx)
}
