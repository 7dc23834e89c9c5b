"""Reads melodies, and cuts them into tunes that can be compared with each other.

A tune has one meter and a whole number of measures. The families:
  2/4   16 measures, from dances and strains of marches (8 of 4/4 count as 16 of 2/4, 16 of 2/2 are halved)
  6/8   8 measures, from dances and strains of marches
  4/4   8 measures out of songs and vocalises that close on the tonic
  3/4   8 measures out of songs, vocalises and dances that close on the tonic
"""
import bisect, hashlib, json, os
import xml.etree.ElementTree as ET
from typing import NamedTuple

TICKS = 24                                # to the quarter in a tune
FILE_TICKS = 48                           # to the quarter in a file
KINDS = {'2/4': ('dance', 'march', 'strain'), '6/8': ('dance', 'march', 'strain'),
         '4/4': ('song', 'vocalise'), '3/4': ('dance', 'song', 'vocalise')}
SUNG = ('song', 'vocalise')
# semitones above the tonic -> (scale step, semitones off the scale: major, natural minor)
SCALES = {'major': [(0, 0), (0, 1), (1, 0), (2, -1), (2, 0), (3, 0), (3, 1), (4, 0), (5, -1), (5, 0), (6, -1), (6, 0)],
          'minor': [(0, 0), (1, -1), (1, 0), (2, 0), (2, 1), (3, 0), (3, 1), (4, 0), (5, 0), (5, 1), (6, 0), (6, 1)]}
# How well each semitone above the tonic fits a key: Krumhansl and Kessler 1982, from memory.
FITS = {'major': [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88],
        'minor': [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17]}
PLAIN_TICKS = {6, 12, 18, 24, 30, 36, 42, 48, 60, 72, 84, 96, 120, 144}


class Note(NamedTuple):
    onset: int      # ticks after the first downbeat; negative in a pickup
    ticks: int
    step: int       # scale steps above a tonic
    alter: int      # semitones off the scale


class Tune(NamedTuple):
    id: str         # of the whole melody: tunes cut from one melody share it
    family: str
    mode: str
    measures: int
    length: int     # of a measure, in ticks
    beat: int       # in ticks
    notes: list

    @property
    def density(self):
        return len(self.notes) / self.measures

    def by_measure(self):
        """The notes of each measure, their onsets counted from its barline; pickups are left out."""
        out = [[] for _ in range(self.measures)]
        for note in self.notes:
            if 0 <= note.onset < self.measures * self.length:
                out[note.onset // self.length].append(note._replace(onset=note.onset % self.length))
        return out


def is_held_back(tune):
    """A third of the melodies, by a hash of their names: nothing is fitted to them."""
    return int(hashlib.sha1(tune.id.encode()).hexdigest(), 16) % 3 == 0


def is_plain(tune):
    """True for what a page to read at sight could hold: plain values, a compass of a twelfth, few altered notes."""
    steps = [note.step for note in tune.notes]
    altered = sum(note.alter != 0 for note in tune.notes)
    return (all(note.ticks in PLAIN_TICKS and note.onset % 6 == 0 for note in tune.notes)
            and max(steps) - min(steps) <= 11 and altered <= .08 * len(steps) + 9 * (tune.mode == 'minor'))


def read(path, family):
    """The tunes of a family in a JSON-lines file or a folder of MusicXML, each opening once."""
    if os.path.isdir(path):
        kind = 'song' if family in ('4/4', '3/4') else 'strain'
        names = sorted(name for name in os.listdir(path) if name.endswith('.musicxml'))
        rows = [musicxml_row(os.path.join(path, name), kind) for name in names]
    else:
        with open(path) as lines:
            rows = [json.loads(line) for line in lines]
    out, seen = [], set()
    for row in rows:
        if row['kind'] not in KINDS[family] or not row['notes']:
            continue
        for tune in (windows(row) if row['kind'] in SUNG else sections(row)):
            opening = [note.step for note in tune.notes if note.onset >= 0][:9]
            signature = tuple(b - a for a, b in zip(opening, opening[1:]))
            if tune.family == family and signature not in seen:
                seen.add(signature)
                out.append(tune)
    return out


# ---- MusicXML ----

def musicxml_row(path, kind):
    """The first part of a MusicXML file as a row of melodies.jsonl; of two endings the second is read."""
    part = ET.parse(path).getroot().find('part')
    numbers = lambda ending: ending.get('number', '').replace(' ', '').split(',')
    has_second = any('2' in numbers(ending) for ending in part.iter('ending'))
    state = dict(divisions=1, meter=(4, 4), fifths=0, mode='major')
    bars, notes, at, skipping = [], [], 0, False
    for measure in part.findall('measure'):
        endings = [ending for ending in measure.iter('ending') if '1' in numbers(ending)]
        skipping |= has_second and any(ending.get('type') == 'start' for ending in endings)
        first = len(notes)
        length = read_measure(measure, at, state, notes)
        if skipping:
            del notes[first:]
        else:
            nominal = measure_length(state['meter'], FILE_TICKS)
            bars.append(at + length - nominal if not bars and 0 < length < nominal else at)
            at += length or nominal
        if any(ending.get('type') != 'start' for ending in endings):
            skipping = False
    return dict(id=os.path.basename(path), kind=kind, meter=state['meter'], fifths=state['fifths'],
                mode=state['mode'], bars=bars, notes=notes)


def read_measure(measure, start, state, notes):
    at = start
    for element in measure:
        if element.tag == 'attributes':
            state['divisions'] = int(element.findtext('divisions', state['divisions']))
            if element.find('time') is not None:
                state['meter'] = int(element.findtext('time/beats')), int(element.findtext('time/beat-type'))
            if element.find('key') is not None:
                state['fifths'] = int(element.findtext('key/fifths'))
                state['mode'] = element.findtext('key/mode', 'major')
        elif element.tag == 'backup':
            break
        elif element.tag in ('note', 'forward') and element.find('grace') is None and element.find('chord') is None:
            ticks = int(element.findtext('duration')) * FILE_TICKS // state['divisions']
            if element.find('pitch') is not None:
                pitch = midi(element.find('pitch'))
                tied = any(tie.get('type') == 'stop' for tie in element.findall('tie'))
                if tied and notes and notes[-1][2] == pitch:
                    notes[-1][1] = at + ticks - notes[-1][0]
                else:
                    notes.append([at, ticks, pitch])
            at += ticks
    return at - start


def midi(pitch):
    letter = dict(C=0, D=2, E=4, F=5, G=7, A=9, B=11)[pitch.findtext('step')]
    return 12 * int(pitch.findtext('octave')) + 12 + letter + int(float(pitch.findtext('alter', '0')))


def measure_length(meter, quarter):
    return quarter * 4 * meter[0] // meter[1]


# ---- cutting ----

def sections(row):
    """Sections of a dance or strain: 8 measures, or 16 of 2/4. Of a strain in 6/8 the half that closes it."""
    meter, strain = tuple(row['meter']), row['kind'] != 'dance'
    halve = strain and meter == (2, 2)
    measures = 16 if meter == (2, 4) or halve else 8
    length = measure_length(meter, FILE_TICKS)
    cuts = cuts_of(row, length, measures)
    if strain and measures == 8:
        cuts = cuts[-1:]
    shown, shown_measures = ((2, 4), 16) if meter in ((4, 4), (2, 2)) else (meter, measures)
    for place, (start, pickup) in enumerate(cuts):
        end = start + measures * length
        if place + 1 < len(cuts) and cuts[place + 1][0] == end:
            end -= cuts[place + 1][1]
        notes = notes_between(row['notes'], start, start - pickup, end, 4 if halve else 2)
        if not notes or len(notes) < 12:
            continue
        tonic, mode = (7 * row['fifths'] + (9 if row['mode'] == 'minor' else 0)) % 12, row['mode']
        if row['kind'] == 'march':       # key signatures of these cannot be trusted
            tonic, mode = estimate_key(notes)
        if mode in SCALES:
            tune = make_tune(row, shown, shown_measures, notes, tonic, mode)
            if tune.family != '3/4' or tune.notes[-1].step % 7 == 0:
                yield tune


def cuts_of(row, length, measures):
    """Where sections start, and how long the pickup of each is, in file ticks.

    A section starts where a repeat sign splits a measure in two; else every 8 or 16 measures."""
    bars, first = row['bars'], row['notes'][0][0]
    grid, opens, pickup, k = [], True, 0, 0
    if first - bars[0] >= length // 2:
        pickup, k = bars[0] + length - first, 1
    while k < len(bars):
        grid.append((bars[k], opens, pickup))
        opens, pickup = False, 0
        size = bars[k + 1] - bars[k] if k + 1 < len(bars) else length
        if size < length:
            opens = True
            if k + 2 < len(bars) and bars[k + 2] - bars[k] == length:
                pickup = length - size
                k += 1
        k += 1
    cuts, count = [], 0
    for place, (start, opens, pickup) in enumerate(grid):
        count = 0 if opens else count
        rest = grid[place:place + measures]
        if count % measures == 0 and len(rest) == measures and not any(opens for _, opens, _ in rest[1:]):
            cuts.append((start, pickup if opens else pickup_inside(row['notes'], start, length)))
        count += 1
    return cuts


def pickup_inside(notes, start, length):
    """How long the pickup of a phrase inside a melody is: short notes after a long one."""
    late = [note for note in notes if start - length // 2 < note[0] < start]
    before = [note for note in notes if late and note[0] < late[0][0]]
    return start - late[0][0] if before and before[-1][1] >= FILE_TICKS else 0


def windows(row):
    """Windows of 8 measures of a song: they start at an entry, end in a long note or a rest, and close."""
    notes, bars, meter = row['notes'], row['bars'], tuple(row['meter'])
    length = measure_length(meter, FILE_TICKS)
    long_note, gap = FILE_TICKS * 3 // 2, FILE_TICKS // 2
    entries = [0] + [k for k in range(1, len(notes)) if notes[k - 1][1] >= long_note
                     or notes[k][0] - notes[k - 1][0] - notes[k - 1][1] >= gap]
    busy_until = -10 ** 9
    for k in entries:
        onset = notes[k][0]
        bar = max(0, bisect.bisect_right(bars, onset) - 1)
        offset = onset - bars[bar]
        if onset < busy_until or length // 4 < offset < length // 2:
            continue
        bar += offset >= length // 2
        if bar + 8 > len(bars) or any(bars[bar + i] != bars[bar] + i * length for i in range(8)):
            continue
        tune = window(row, meter, bars[bar], min(onset, bars[bar]), length)
        if tune:
            yield tune
            busy_until = bars[bar] + 8 * length


def window(row, meter, start, entry, length):
    end = start + 8 * length
    inside = [note for note in row['notes'] if entry <= note[0] < end]
    if any(b[0] - a[0] - a[1] >= length * 3 // 2 for a, b in zip(inside, inside[1:])):
        return None
    rests_at_end = end - inside[-1][0] - inside[-1][1] >= FILE_TICKS // 2
    while not rests_at_end and len(inside) > 1 and inside[-1][1] < FILE_TICKS:
        inside.pop()                     # what is already the pickup of the next phrase
    if len(inside) < 12 or inside[-1][0] < start + 7 * length:
        return None
    notes = notes_between(inside, start, entry, end, 2)
    if not notes:
        return None
    tonic, mode = estimate_key(notes)
    tune = make_tune(row, meter, 8, notes, tonic, mode)
    on_scale = sum(note.alter == 0 or (mode == 'minor' and note.step % 7 in (5, 6)) for note in tune.notes)
    return tune if on_scale >= .85 * len(tune.notes) and tune.notes[-1].step % 7 == 0 else None


def notes_between(notes, zero, start, end, divide):
    """[(onset, ticks, midi)] in ticks of a tune, or None where a note does not fit them."""
    out = []
    for onset, ticks, pitch in notes:
        if start <= onset < end:
            ticks = min(ticks, end - onset)
            if (onset - zero) % divide or ticks % divide:
                return None
            out.append(((onset - zero) // divide, ticks // divide, pitch))
    return out


def make_tune(row, meter, measures, notes, tonic, mode):
    """A tune of the notes, by octaves where the mean step lies in 0..7."""
    out = []
    for onset, ticks, pitch in notes:
        octave, semitone = divmod(pitch - tonic - 60, 12)
        step, alter = SCALES[mode][semitone]
        out.append(Note(onset, ticks, 7 * octave + step, alter))
    shift = 7 * int(sum(note.step for note in out) / len(out) // 7)
    beat = TICKS * 3 // 2 if meter[1] == 8 and meter[0] % 3 == 0 else TICKS * 4 // meter[1]
    return Tune(row['id'], f'{meter[0]}/{meter[1]}', mode, measures, measure_length(meter, TICKS), beat,
                [note._replace(step=note.step - shift) for note in out])


def estimate_key(notes):
    """(tonic 0..11, mode) whose profile correlates best with the time that each pitch sounds."""
    weights = [0.0] * 12
    for _, ticks, pitch in notes:
        weights[pitch % 12] += ticks
    mean = sum(weights) / 12
    best = None
    for mode, profile in FITS.items():
        centred = [value - sum(profile) / 12 for value in profile]
        size = sum(value * value for value in centred) ** .5
        for tonic in range(12):
            fit = sum((weights[(tonic + i) % 12] - mean) * centred[i] for i in range(12)) / size
            if best is None or fit > best[0]:
                best = fit, tonic, mode
    return best[1:]
