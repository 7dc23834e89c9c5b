// The bench of musical quality: how like real melodies the reads are, in figures. It is a
// developer's tool and holds nothing that the program uses.
//
//	go test ./compose/quality -run NONE -bench Music -benchtime 1x
//	go test ./compose/quality -run NONE -bench Variety -benchtime 1x
//
// The environment narrows or widens both: ONWARD_READS is how many reads a style and rung
// (60, and 1,000 for Variety; a full run of Music takes 500, some ten minutes: give
// -timeout 30m), ONWARD_RUNGS which rungs ("5,8,12"; all, and 6 for Variety), ONWARD_STYLE
// one style.
//
// The figures of real melodies lie beside this tree in ../shared/melody-stats.json, sample
// scores in ../shared/samples; without them everything here skips. Reads are whole pieces (a
// march, a song) for the euphonium in treble clef, seeds 1 and on. All are measured by the
// reference's method (figures_test.go): on the page in order, repeats not unfolded, ties
// merged, grace notes dropped, rests passed over. A test measures a sample that is part of
// the reference and finds the reference's figures again.
//
// # How to read the table
//
// A row is one distribution, a figure the distance of our reads from the real set (0 is
// the same), in the unit that the row's name gives:
//
//   - (JS) is the Jensen-Shannon distance of kinds: the square root of the divergence to
//     base 2, 1 for nothing in common. The second table has the same rows as overlapping
//     area, the sum of minima, where 1 is the same.
//   - (area) is for what each melody has one of, such as its share of steps: the area that
//     two densities do not share, each made of five quantiles, with straight lines between.
//     Five or six melodies give a jagged density, so that these rows are rough for marches.
//   - (bits), (st) and (points) are differences: of entropies; in semitones of contours and
//     ranges; in percentage points of how many measures are like the one 1, 2, 4, 8, 16
//     before; without a unit in numbers.
//
// The real set of marches is the band's solo cornet and baritone, pooled by notes. What
// depends on the meter (where notes begin, how long they last) is compared meter by meter,
// with the file's band marches in 6/8 and in 2/4 and 2/2, which have piano top lines among
// them; 4/4 has no band march. The real set of songs is the vocalises; what depends on the
// meter is compared after our reads are weighed to the meters of these. Measure rhythms are
// the reference's commonest of one meter, all others being one class.
//
// floor is how far real melodies are from each other. The reference has no melodies, so
// that true random halves of it cannot be drawn; the floor is the mean over the pairs of
// real sets that there are, which a table of its own lists, and least is the nearest pair.
// Marches: cornet and baritone, 6/8 and 2/4 with 2/2, band and fife. Songs: vocalises and
// art songs, and for phrases and form, which the file has of vocalises alone, each sample
// song against the others. Where twice the floor is all that a bounded distance can be, it
// says nothing, and the row has no verdict.
//
// samp is what the three sample scores of the style get, as if they were reads: what three
// real pieces must be granted.
//
// walk is the ceiling: reads in which every melody and rhythm that the hard rules allow is as
// likely as another, of all judged rungs together. Plans of form hold there, too. Column
// "5 up" is our reads of all rungs from 5 on together. Few reads scatter: the start degree
// of 60 reads is some 0.1 from that of thousands. Rhythms of fewer than 200 measures of
// a meter are left out.
//
// The verdict looks at rungs from 5 on, and names the worst: within twice the floor, or
// how many times it. Below are the rows over, the farthest first, with what each is made
// of. Some differences are meant: lower rungs have a narrow span, small leaps, few notes
// a measure and no chromatics. The last table has what the reference has no figures of.
//
// # Variety
//
// Each snippet remembers those before it as the journal would, so that some may be refused,
// which is told. Then come the largest share
// of measures that two reads have in common (a measure is the same note for note, or moved
// to another pitch; wanted is 30 % at most), what certificates say of it, how often the
// memory of measures was asked (twice for a read that is good at once), how many legal melodies there were, and whether
// figures of a vocabulary are used as their weight says. The weight of a drilled figure is
// 0.5 and how much it was drilled, 0 to 1. How many places a figure fits into is known to the
// sampler alone, so it is measured by reads from the same figures all drilled alike; that
// times the weight is expected, among the figures of one cell, which compete for the same
// places. The chi-square allows for uses that come in clusters, as phrases take up others'
// figures. A second vocabulary has the widest weights that there are, so that a composer
// that did not heed them would be found out: the line "if weights did nothing" says so.
//
// # Apart and Counts
//
//	go test ./compose/quality -run NONE -bench Apart/march24 -benchtime 1x
//	go test ./compose/quality -run NONE -bench Counts/song34 -benchtime 1x
//
// Apart has judges of scikit-learn (testdata/outside/apart.py) tell our reads of a family, a
// style and a meter, from real melodies that nothing was fitted to. The figure is the AUC, the
// chance that the judge takes the real one of a pair for real: 0.5 where it cannot tell, 1
// where it always can. Both sides are matched in density and mode first, so that these do not
// tell; where few are left the AUC says little, which is a fault of its own. The spread is
// the standard error over the melodies at hand; of few reads the judges also learn less, so
// compare figures of as many reads alone. Below stand the AUC of each group of features by
// itself and the features that tell most. By hand, on a folder of MusicXML; without the folder
// it tells real melodies from each other, which is the floor:
//
//	testdata/outside/apart.py 2/4 ../shared/melodies/melodies.jsonl FOLDER --groups
//
// Counts has figures of tunes of sixteen measures: of band strains (all of them, as they are
// few), of other real tunes that are held back, and of ours by rung. The column "first" is
// what the composer of version 4 had. The bound is half of its distance from real tunes to
// either side of these, or two standard errors of theirs where that is more; "over" says that
// the mean of our rungs lies outside.
package quality_test
