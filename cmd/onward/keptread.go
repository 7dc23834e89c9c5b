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
	Vocabulary []byte       `json:"vocabulary,omitempty"` // TOML
	Drills     []byte       `json:"drills,omitempty"`     // lines
}

// encodeRequest is the request as the journal keeps it. sheet is the text of a sheet of the
// player's own, nil for one of the program's.
func encodeRequest(req compose.Request, sheet []byte) ([]byte, error) {
	k := keptRequest{Generator: compose.Version, Seed: req.Seed, Style: req.Style.Name, Sheet: sheet, Rung: req.Rung,
		Instrument: req.Instrument.ID, Form: req.Form, Measures: req.Measures, Tempo: req.Tempo, Aims: req.Aims}
	if req.Key != nil {
		k.Key = req.Key.String()
	}
	if req.Meter != nil {
		k.Meter = req.Meter.String()
	}
	if req.Vocabulary != nil {
		var b bytes.Buffer
		if err := figure.WriteVocabulary(&b, *req.Vocabulary); err != nil {
			return nil, err
		}
		k.Vocabulary = b.Bytes()
	}
	if len(req.Drills) > 0 {
		k.Drills = encodeLines(req.Drills)
	}
	return json.Marshal(k)
}

// decodeRequest takes encodeRequest back, with the catalogue that the request goes with.
func decodeRequest(text []byte) (req compose.Request, c *figure.Catalogue, sheet []byte, err error) {
	var k keptRequest
	c = figure.Default()
	if err := json.Unmarshal(text, &k); err != nil {
		return req, c, nil, err
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
	if len(k.Vocabulary) > 0 {
		v, err := c.ReadVocabulary(bytes.NewReader(k.Vocabulary), "its vocabulary")
		if err != nil {
			return req, c, nil, err
		}
		req.Vocabulary = &v
		if c, err = c.With(v.Own); err != nil {
			return req, c, nil, err
		}
	}
	if len(k.Drills) > 0 {
		if req.Drills, err = decodeLines(k.Drills); err != nil {
			return req, c, nil, err
		}
	}
	return req, c, k.Sheet, nil
}

// settleAgain settles a studio whose read is in the journal, to be made as it was.
func (s *studio) settleAgain(ctx context.Context) error {
	var text []byte
	var err error
	if err != nil {
		return err
	}
	var sheet []byte
	s.req, s.world.Catalogue, sheet, err = decodeRequest(text)
	if err != nil {
		return asked(fmt.Errorf("read %d of the journal: %w", s.o.Again, err), "")
	}
	if sheet != nil {
		s.mark = sheetMark(sheet)
	}
	return s.remember(ctx)
}
