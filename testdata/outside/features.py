"""Features of a tune, named GROUP.NAME: interval, rhythm, form, cadence, contour, harmony.

Left out on purpose, since they tell the sides apart for reasons that say nothing of the music: density and mode
(both sides are matched in them), the compass, the mean height, and altered notes (the rung decides on them).
"""
from collections import Counter, defaultdict
import numpy as np
from melodies import TICKS

GROUPS = ('interval', 'rhythm', 'form', 'cadence', 'contour', 'harmony')
TRIADS = {'I': {0, 2, 4}, 'V': {4, 6, 1, 3}, 'IV': {3, 5, 0}, 'ii': {1, 3, 5}, 'vi': {5, 0, 2}}


def clip(value, limit):
    return max(-limit, min(limit, value))


def sign(value):
    return (value > 0) - (value < 0)


def share(items, condition):
    items = list(items)
    return sum(1 for item in items if condition(item)) / max(1, len(items))


def add_shares(out, prefix, items, name=str):
    items = list(items)
    for item, count in Counter(items).items():
        out[prefix + name(item)] = count / max(1, len(items))


def features(tune):
    out = {}
    steps = [note.step for note in tune.notes]
    intervals = [b - a for a, b in zip(steps, steps[1:])]
    measures = tune.by_measure()
    add_intervals(out, intervals)
    add_degrees(out, tune, steps)
    add_leaps(out, intervals, measures)
    add_rhythm(out, tune)
    add_form(out, tune, measures, intervals)
    add_cadences(out, tune, measures, intervals)
    add_contour(out, tune, steps, measures)
    add_harmony(out, tune, measures)
    return out


def add_intervals(out, intervals):
    signed = lambda items: ','.join(f'{item:+d}' for item in items)
    add_shares(out, 'interval.one ', [(clip(i, 6),) for i in intervals], signed)
    add_shares(out, 'interval.two ', [(clip(i, 3), clip(j, 3)) for i, j in zip(intervals, intervals[1:])], signed)
    letter = lambda i: '0' if i == 0 else ('u' if i > 0 else 'd') if abs(i) == 1 else ('U' if i > 0 else 'D')
    word = ''.join(letter(i) for i in intervals)           # u, d: step; U, D: leap
    add_shares(out, 'interval.three ', [word[i:i + 3] for i in range(len(word) - 2)])


def add_degrees(out, tune, steps):
    degree = lambda step: step % 7 + 1
    add_shares(out, 'interval.degree ', map(degree, steps))
    add_shares(out, 'interval.degrees ', [f'{degree(a)}{degree(b)}' for a, b in zip(steps, steps[1:])])
    sounding = [note for note in tune.notes if note.onset >= 0]
    down = [note.step for note in sounding if note.onset % tune.length == 0]
    beats = [note.step for note in sounding if note.onset % tune.beat == 0]
    add_shares(out, 'interval.downbeat degree ', map(degree, down))
    add_shares(out, 'interval.beat degree ', map(degree, beats))
    add_shares(out, 'interval.downbeat to downbeat ', [f'{clip(b - a, 5):+d}' for a, b in zip(down, down[1:])])
    out['rhythm.downbeats sounded'] = len(down) / tune.measures
    out['rhythm.beats sounded'] = len(beats) / (tune.measures * tune.length / tune.beat)


def add_leaps(out, intervals, measures):
    moving = [i for i in intervals if i]
    pairs = list(zip(intervals, intervals[1:]))
    triples = list(zip(intervals, intervals[1:], intervals[2:]))
    after_leap = [pair for pair in pairs if abs(pair[0]) >= 3]
    joints, last = [], None
    for notes in filter(None, measures):
        if last is not None:
            joints.append(notes[0].step - last)
        last = notes[-1].step
    put = lambda name, items, condition: out.__setitem__('interval.' + name, share(items, condition))
    put('steps of moving', moving, lambda i: abs(i) == 1)
    put('repeats', intervals, lambda i: i == 0)
    put('up of moving', moving, lambda i: i > 0)
    put('turns', zip(moving, moving[1:]), lambda p: p[0] * p[1] < 0)
    put('leaps of a fifth or more', intervals, lambda i: abs(i) >= 4)
    put('octaves', intervals, lambda i: abs(i) == 7)
    put('leap answered by step back', after_leap, lambda p: p[0] * p[1] < 0 and abs(p[1]) == 1)
    put('leap goes on', after_leap, lambda p: p[0] * p[1] > 0)
    put('thirds in a chain', pairs, lambda p: abs(p[0]) == 2 and p[0] == p[1])
    put('scale of four', triples, lambda t: abs(t[0]) == 1 and t[0] == t[1] == t[2])
    put('neighbour', pairs, lambda p: abs(p[0]) == 1 and p[0] == -p[1])
    put('step over barline', joints, lambda i: abs(i) == 1)
    put('repeat over barline', joints, lambda i: i == 0)
    put('leap over barline', joints, lambda i: abs(i) >= 3)


def beat_cells(tune):
    """The rhythm of each beat: ((onset in the beat, ticks), ...)."""
    cells = defaultdict(list)
    for note in tune.notes:
        if note.onset >= 0:
            cells[note.onset // tune.beat].append((note.onset % tune.beat, min(note.ticks, 2 * tune.beat)))
    return [tuple(cells.get(i, ())) for i in range(tune.measures * tune.length // tune.beat)]


def add_rhythm(out, tune):
    notes, beat = tune.notes, tune.beat
    cells = beat_cells(tune)
    name = lambda cell: '+'.join(f'{onset}:{ticks}' for onset, ticks in cell) or 'none'
    add_shares(out, 'rhythm.cell ', cells, name)
    add_shares(out, 'rhythm.cells ', zip(cells, cells[1:]), lambda pair: name(pair[0]) + '|' + name(pair[1]))
    out['rhythm.kinds of cells'] = len(set(cells)) / len(cells) ** .5
    for lag in (1, 2, 4):
        out[f'rhythm.same cell {lag} before'] = share(zip(cells, cells[lag:]), lambda pair: pair[0] == pair[1])
    add_shares(out, 'rhythm.ticks ', [min(note.ticks, 4 * TICKS) for note in notes])
    total = tune.measures * tune.length
    out['rhythm.silence'] = 1 - min(1, sum(note.ticks for note in notes) / total)
    gaps = sum(b.onset > a.onset + a.ticks for a, b in zip(notes, notes[1:]))
    out['rhythm.rests'] = gaps / tune.measures
    crosses = lambda n: n.onset % beat and n.onset // beat != (n.onset + n.ticks - 1) // beat
    out['rhythm.syncopation'] = share(notes, crosses)
    out['rhythm.off the beat'] = share(notes, lambda n: n.onset % beat)


def add_form(out, tune, measures, intervals):
    count = tune.measures
    onsets = [tuple(n.onset for n in m) for m in measures]
    moves = [tuple(b.step - a.step for a, b in zip(m, m[1:])) for m in measures]
    shapes = list(zip(onsets, moves))
    contours = [(o, tuple(map(sign, m))) for o, m in shapes]
    exact = [(o, tuple(n.step for n in m)) for o, m in zip(onsets, measures)]
    for lag in (1, 2, 4, 8):
        if lag >= count:
            continue
        pairs = [(i, i - lag) for i in range(lag, count)]
        long_enough = lambda i, j: len(measures[i]) > 1 and shapes[i] == shapes[j]
        put = lambda name, condition: out.__setitem__(f'form.{name} {lag} before', share(pairs, lambda p: condition(*p)))
        put('same rhythm', lambda i, j: onsets[i] == onsets[j])
        put('same contour', lambda i, j: contours[i] == contours[j])
        put('same shape', long_enough)
        put('sequence', lambda i, j: long_enough(i, j) and exact[i] != exact[j])
        put('same measure', lambda i, j: exact[i] == exact[j])
        out[f'form.pitches shared {lag} before'] = _pitches_shared(measures, pairs)
    for name, kind in (('rhythms', onsets), ('measures', exact), ('shapes', shapes)):
        out[f'form.kinds of {name}'] = len(set(kind)) / count
    out['form.longest run of one rhythm'] = _longest_run(onsets)
    mean = max(.5, len(tune.notes) / count)
    for place in range(4):
        sizes = [len(measures[i]) for i in range(place, count, 4)]
        out[f'form.notes in measure {place + 1} of four'] = sum(sizes) / len(sizes) / mean
    out['form.spread of density'] = float(np.std([len(m) for m in measures])) / mean
    out['form.rhythms of the first two'] = share(onsets[2:], lambda o: o in onsets[:2])
    for size in (3, 5):
        grams = [tuple(intervals[i:i + size]) for i in range(len(intervals) - size + 1)]
        out[f'form.{size} intervals come again'] = 1 - len(set(grams)) / max(1, len(grams))


def _pitches_shared(measures, pairs):
    total = same = 0
    for i, j in pairs:
        here, there = ({n.onset: n.step for n in measures[k]} for k in (i, j))
        total += len(set(here) | set(there))
        same += sum(there.get(onset) == step for onset, step in here.items())
    return same / max(1, total)


def _longest_run(items):
    best = run = 1
    for a, b in zip(items, items[1:]):
        run = run + 1 if a == b else 1
        best = max(best, run)
    return best


def add_cadences(out, tune, measures, intervals):
    length, beat = tune.length, tune.beat
    mean = max(.5, len(tune.notes) / tune.measures)
    for i in range(3, tune.measures, 4):
        name = f'cadence.measure {i + 1} '
        out[name + 'notes'] = len(measures[i]) / mean
        if measures[i]:
            last = measures[i][-1]
            out[name + 'last note long'] = last.ticks / beat
            out[name + 'last note late'] = last.onset / length
            out[name + f'last degree {last.step % 7 + 1}'] = 1
            out[name + 'silence at end'] = (length - last.onset - last.ticks) / length
            on_beat = [n for n in measures[i] if n.onset % beat == 0]
            if on_beat:
                out[name + f'first degree {on_beat[0].step % 7 + 1}'] = 1
    pickup = [n for n in tune.notes if n.onset < 0]
    out['cadence.pickup notes'] = len(pickup)
    if pickup:
        out['cadence.pickup length'] = -pickup[0].onset / length
    if measures[0]:
        out[f'cadence.first degree {measures[0][0].step % 7 + 1}'] = 1
    last = tune.notes[-1]
    out[f'cadence.last degree {last.step % 7 + 1}'] = 1
    out['cadence.last interval ' + (f'{intervals[-1]:+d}' if abs(intervals[-1]) < 4 else 'leap')] = 1
    out['cadence.last note length'] = last.ticks / beat
    out['cadence.last note late'] = last.onset % length / length


def add_contour(out, tune, steps, measures):
    total, mean = tune.measures * tune.length, sum(steps) / len(steps)
    for eighth in range(8):
        part = [n.step for n in tune.notes if eighth * total <= n.onset * 8 < (eighth + 1) * total]
        out[f'contour.eighth {eighth + 1}'] = sum(part) / len(part) - mean if part else 0
    place = lambda step: next(n.onset for n in tune.notes if n.step == step) / total
    out['contour.place of peak'] = place(max(steps))
    out['contour.share of peak'] = share(steps, lambda s: s == max(steps))
    out['contour.place of lowest'] = place(min(steps))
    sounding = [[n.step for n in m] for m in measures if m]
    out['contour.spread of measures'] = float(np.std([sum(m) / len(m) for m in sounding]))
    out['contour.span of a measure'] = float(np.mean([max(m) - min(m) for m in sounding]))


def add_harmony(out, tune, measures):
    fits, labels, tonic = [], [], 0
    for notes in filter(None, measures):
        time = sum(n.ticks for n in notes)
        weight = {name: sum(n.ticks for n in notes if n.step % 7 in triad) / time for name, triad in TRIADS.items()}
        label = max(weight, key=lambda name: weight[name] + (.02 if name in ('I', 'V', 'IV') else 0))
        fits.append(weight[label])
        labels.append(label)
        tonic += weight['I']
    out['harmony.time in I'] = tonic / tune.measures
    out['harmony.clearness'] = sum(fits) / len(fits)
    out['harmony.pure measures'] = share(fits, lambda f: f > .99)
    add_shares(out, 'harmony.chord ', labels)
    out['harmony.changes'] = share(zip(labels, labels[1:]), lambda p: p[0] != p[1])
    broken = 0
    for a, b, c in zip(*(tuple(n.step for n in tune.notes)[k:] for k in range(3))):
        if abs(a - b) >= 2 and abs(b - c) >= 2:
            broken += any({a % 7, b % 7, c % 7} <= triad for triad in TRIADS.values())
    out['harmony.broken chords'] = broken / len(tune.notes)


def matrix(tunes, names=None, least=.03):
    """(rows of values, names); without names those that at least 3 % of the tunes have."""
    found = [features(tune) for tune in tunes]
    if names is None:
        counts = Counter(name for row in found for name in row)
        names = sorted(name for name, count in counts.items() if count >= least * len(found))
    column = {name: i for i, name in enumerate(names)}
    values = np.zeros((len(found), len(names)))
    for i, row in enumerate(found):
        for name, value in row.items():
            if name in column:
                values[i, column[name]] = value
    return values, names
