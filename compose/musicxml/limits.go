package musicxml

// Limits on what is read; a file beyond them is refused, with words.
const (
	maxSize          = 64 << 20  // bytes of a plain file, and of a score once it is unpacked
	maxPacked        = 32 << 20  // bytes of a compressed file
	maxEntries       = 1000      // files in a compressed file
	maxRatio         = 200       // a score is so many times as long unpacked, where it is longer than freeRatio
	freeRatio        = 1 << 20   // bytes
	maxContainer     = 1 << 20   // bytes of a compressed file's table of contents
	maxToken         = 1 << 20   // bytes of one tag, text or comment
	maxDepth         = 64        // elements inside elements
	maxElements      = 3_000_000 // in a file
	maxAttrs         = 100       // of an element
	maxString        = 4096      // bytes of a text or an attribute; a longer one is cut, with a warning
	maxParts         = 400
	maxMeasures      = 10_000    // in a part
	maxAll           = 250_000   // measures in all parts, each part as long as the longest
	maxNotes         = 200_000   // in a part, rests too
	maxDivisions     = 1_000_000 // of a quarter
	maxTransposition = 48        // semitones, up or down
	maxTuplet        = 64        // notes in the time of others
	maxEnding        = 99        // the number of an ending; also how often a repeat is played
	maxPlayed        = 20_000    // measures in a take, repeats played
	maxPlayers       = 128       // instruments in a part
	maxWarnings      = 100       // kinds of warning in a part
)
