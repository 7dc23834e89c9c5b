package compose

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"strings"
)

// Identity reports all that makes the read as one line: generator version, seed and
// request. The same identity gives the same bytes on every machine, as long as the
// same earlier reads are to be kept clear of. Vocabulary and drills stand in it as
// digests.
func (req Request) Identity() string {
	words := []string{
		fmt.Sprintf("onward=%d", Version), fmt.Sprintf("seed=%d", req.Seed), "style=" + req.Style.Name,
		fmt.Sprintf("rung=%d", req.Rung), "instrument=" + req.Instrument.ID,
	}
	if req.Key != nil {
		words = append(words, "key="+strings.ReplaceAll(req.Key.String(), " ", "-"))
	}
	if req.Meter != nil {
		words = append(words, "meter="+req.Meter.String())
	}
	if req.Form != "" {
		words = append(words, "form="+req.Form)
	}
	if req.Measures != 0 {
		words = append(words, fmt.Sprintf("measures=%d", req.Measures))
	}
	if req.Tempo != 0 {
		words = append(words, fmt.Sprintf("tempo=%d", req.Tempo))
	}
	if req.Coverage != nil {
		words = append(words, fmt.Sprintf("coverage=%g", *req.Coverage))
	}
	if req.Traps != nil {
		words = append(words, fmt.Sprintf("traps=%d", *req.Traps))
	}
	if req.New != nil {
		words = append(words, fmt.Sprintf("new=%d", *req.New))
	}
	if req.Vocabulary != nil {
		words = append(words, fmt.Sprintf("vocabulary=%016x", req.digestVocabulary()))
	}
	if len(req.Drills) > 0 {
		words = append(words, fmt.Sprintf("drills=%016x", req.digestDrills()))
	}
	return strings.Join(words, " ")
}

func (req Request) digestVocabulary() uint64 {
	h := fnv.New64a()
	for _, e := range req.Vocabulary.Figures {
		fmt.Fprintf(h, "%s/%s %d %d\n", e.Shape, e.Cell, e.Count, e.Within)
	}
	for _, o := range req.Vocabulary.Own {
		fmt.Fprintf(h, "%s: %s\n", o.Name, o.Moves)
	}
	for _, c := range req.Vocabulary.Cells {
		fmt.Fprintf(h, "%s %d\n", c.Cell, c.Count)
	}
	for _, k := range req.Vocabulary.Keys {
		fmt.Fprintf(h, "%s\n", k.Key)
	}
	for _, m := range req.Vocabulary.Meters {
		fmt.Fprintf(h, "%s\n", m.Meter)
	}
	return h.Sum64()
}

func (req Request) digestDrills() uint64 {
	h := fnv.New64a()
	var b []byte
	for _, l := range req.Drills {
		b = binary.LittleEndian.AppendUint64(b[:0], uint64(len(l.MIDI)))
		for i := range l.MIDI {
			b = binary.LittleEndian.AppendUint64(b, uint64(l.MIDI[i]))
			b = binary.LittleEndian.AppendUint64(b, uint64(l.At[i]))
		}
		h.Write(b)
	}
	return h.Sum64()
}
