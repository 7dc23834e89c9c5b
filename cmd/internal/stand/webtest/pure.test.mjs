// Tests of what decides on the page: node --test webtest
import assert from 'node:assert/strict'
import { test } from 'node:test'
import { SharedClock, better, sampleOf } from '../web/clock.js'
import { beatAt, countAt, hiddenAt, shareOf, spanAt, spans } from '../web/position.js'
import { earliest, hardness, largerBy, latest, leafAt, leaves, turnAt, turns } from '../web/turning.js'

// lay lays measures of two beats, half a second each, behind a chord and a counted measure.
function lay(order) {
  const beats = [], passes = {}
  let at = 0
  const add = (measure, number, beat) => {
    beats.push({ at, measure, number, pass: measure < 0 ? 1 : passes[measure], beat, of: 2 })
    at += 500
  }
  for (const number of [0, 1]) for (const beat of [1, 2]) add(-1, number, beat)
  for (const m of order) {
    passes[m] = (passes[m] ?? 0) + 1
    for (const beat of [1, 2]) add(m, m + 1, beat)
  }
  return { beats, end: at }
}

test('a beat lasts until the next', () => {
  const { beats } = lay([0, 1])
  assert.equal(beatAt(beats, -1), -1)
  assert.equal(beatAt(beats, 0), 0)
  assert.equal(beatAt(beats, 499.9), 0)
  assert.equal(beatAt(beats, 500), 1)
  assert.equal(beatAt(beats, 1e9), beats.length - 1)
})

test('measures are played in order, repeats again', () => {
  const { beats, end } = lay([0, 1, 0, 1, 2])
  const played = spans(beats, end)
  assert.deepEqual(played.map(s => s.measure), [0, 1, 0, 1, 2])
  assert.deepEqual(played.map(s => s.from), [2000, 3000, 4000, 5000, 6000])
  assert.equal(played[4].to, end)
  assert.equal(spanAt(played, 1999), -1)
  assert.equal(spanAt(played, 4000), 2)
  assert.equal(spanAt(played, end), -1)
})

test('a measure that is repeated by itself is played twice', () => {
  const { beats, end } = lay([0, 0])
  assert.equal(spans(beats, end).length, 2)
})

test('the share follows a tempo that bends', () => {
  const span = { from: 0, to: 3000, beats: [{ at: 0, share: 0 }, { at: 1000, share: 0.5 }] }
  assert.equal(shareOf(span, 500), 0.25)
  assert.equal(shareOf(span, 1000), 0.5)
  assert.equal(shareOf(span, 2000), 0.75)
  assert.equal(shareOf(span, 9000), 1)
})

test('an upbeat has the share of its own beats', () => {
  const [span] = spans([{ at: 0, measure: 0, pass: 1, beat: 2, of: 3 }, { at: 1, measure: 0, pass: 1, beat: 3, of: 3 }], 2)
  assert.deepEqual(span.beats.map(b => b.share), [0, 0.5])
})

test('the count-in counts, and says when it is the last', () => {
  const { beats } = lay([0])
  assert.deepEqual(countAt(beats, 0), { number: 0, beat: 1, of: 2, last: false })
  assert.deepEqual(countAt(beats, 1600), { number: 1, beat: 2, of: 2, last: true })
  assert.equal(countAt(beats, 2000), null)
})

test('covers come and go', () => {
  const changes = [{ at: 10, hide: [0, 1], show: [] }, { at: 20, hide: [2], show: [0] }]
  assert.deepEqual([...hiddenAt(changes, 9)], [])
  assert.deepEqual([...hiddenAt(changes, 10)], [0, 1])
  assert.deepEqual([...hiddenAt(changes, 25)], [1, 2])
})

test('the page turns a second before its end', () => {
  assert.equal(turnAt(0, 4000, []), 3000)
  assert.equal(turnAt(3500, 4000, []), 3500) // but in the last measure
})

test('a rest or a long note near there is taken', () => {
  assert.equal(turnAt(0, 4000, [{ at: 3200, length: 800 }]), 3200)
  assert.equal(turnAt(0, 4000, [{ at: 2000, length: 1000 }]), 2500)
  assert.equal(turnAt(0, 4000, [{ at: 0, length: 500 }]), 3000) // too early
  assert.equal(turnAt(0, 4000, [{ at: 3900, length: 100 }]), 3000) // too late
})

test('whatever stands there, it turns in the last measure, and in time', () => {
  for (let i = 0; i < 2000; i++) {
    const from = (i * 37) % 3000, to = from + 600 + (i * 53) % 4000
    const looks = [{ at: from + (i * 71) % (to - from), length: (i * 13) % 2500 }]
    const at = turnAt(from, to, looks)
    assert.ok(at >= from && at <= to - latest && at >= Math.min(to - earliest, to), `${from} ${to} ${JSON.stringify(looks)}: ${at}`)
  }
})

test('turns go there and back', () => {
  const { beats, end } = lay([0, 1, 0, 1, 2])
  const list = turns(spans(beats, end), m => m < 2 ? 0 : 1, () => [])
  assert.deepEqual(list, [{ at: -Infinity, leaf: 0 }, { at: 5000, leaf: 1 }])
  const back = turns(spans(beats, end), m => m < 1 ? 0 : 1, () => [])
  assert.deepEqual(back.map(t => t.leaf), [0, 1, 0, 1])
  assert.equal(leafAt(back, 0).leaf, 0)
  assert.equal(leafAt(back, 2999).leaf, 1)
})

test('no line is cut, no page is wasted', () => {
  assert.deepEqual(leaves([10, 10, 10, 10], 25, [1, 1, 1, 1]), [0, 2])
  assert.deepEqual(leaves([10, 10, 10], 20, [0, 1, 1]), [0, 1]) // it is easy to look up after the first
  assert.deepEqual(leaves([30, 10], 20, [1, 1]), [0, 1]) // one that is too high stands alone
  assert.deepEqual(leaves([], 20, []), [])
  for (let i = 1; i < 300; i++) {
    const heights = Array.from({ length: 1 + i % 12 }, (_, k) => 5 + (i * (k + 3) * 7) % 11)
    const room = 16 + i % 30, hard = heights.map((_, k) => (i * k) % 3 / 2)
    const first = leaves(heights, room, hard)
    let greedy = 0, left = 0
    for (const h of heights) {
      if (h > left) { greedy++; left = room }
      left -= h
    }
    assert.equal(first.length, greedy, `${heights} in ${room}`)
    first.forEach((from, p) => {
      const lines = heights.slice(from, first[p + 1] ?? heights.length)
      assert.ok(lines.reduce((a, b) => a + b, 0) <= room || lines.length === 1)
    })
  }
})

test('a repeat lies on one page where it can', () => {
  const even = [10, 10, 10, 10, 10, 10], hard = [0, 0, 0, 0, 0, 0]
  assert.deepEqual(leaves(even, 40, hard, [[2, 5]]), [0, 2])
  assert.deepEqual(leaves(even, 40, hard, [[0, 3]]), [0, 4])
  assert.deepEqual(leaves(even, 40, hard, [[0, 5]]).length, 2) // it cannot
})

test('a short read is larger, a full one is not', () => {
  assert.equal(largerBy(1, 0.1), 1.7)
  assert.equal(largerBy(1, 0.8), 1)
  assert.equal(largerBy(2, 0.1), 1)
  for (let fill = 0.01; fill < 1; fill += 0.01) assert.ok(largerBy(1, fill) ** 2 * fill <= 0.9 || largerBy(1, fill) === 1)
})

test('after a rest it is easy to look up', () => {
  assert.ok(hardness([{ rest: true, length: 1 }], 1) < hardness([{ length: 2 }], 1))
  assert.ok(hardness([{ length: 2 }], 1) < hardness([{ length: 0.5 }], 1))
})

test('the trip with the least delay counts', () => {
  const slow = sampleOf(0, 1100, 300), fast = sampleOf(400, 1410, 404)
  assert.equal(better(slow, fast, 404), fast)
  assert.equal(better(fast, slow, 404), fast)
  assert.ok(Math.abs(fast.offset - 1008) < 1e-9)
})

test('an old trip gives way as clocks part', () => {
  const old = sampleOf(0, 1000, 2), young = sampleOf(100000, 101005, 100010)
  assert.equal(better(old, young, 100010), young) // 1 ms and 100 ppm of 100 s, against 5 ms
})

// world is a page's clocks and a session's, which the test moves; trips take there and back.
function world(offset) {
  const w = { here: 0, wall: 5e11, session: offset }
  w.pass = (ms, rate = 1) => { w.here += ms; w.wall += ms; w.session += ms * rate }
  w.sleep = ms => { w.wall += ms; w.session += ms }
  w.clock = new SharedClock(() => w.here, () => w.wall)
  w.ask = (there, back) => async () => { w.pass(there); const t = w.session; w.pass(back); return t }
  return w
}

test('within half the delay of the truth, over a long time', async () => {
  const w = world(123456)
  for (let i = 0; i < 600; i++) {
    await w.clock.synchronize(w.ask(1 + (i * 7) % 40, 1 + (i * 11) % 40), 4)
    const off = Math.abs(w.clock.now() - w.session)
    assert.ok(off <= w.clock.error() + 1e-6, `${off} > ${w.clock.error()}`)
    w.pass(1000, 1 + 5e-5)
  }
  assert.ok(Math.abs(w.clock.now() - w.session) < 20)
})

test('a page that slept forgets what it knew', async () => {
  const w = world(1000)
  await w.clock.synchronize(w.ask(1, 1), 3)
  w.sleep(60000)
  assert.equal(w.clock.known, false)
  await w.clock.synchronize(w.ask(15, 5), 3)
  assert.equal(w.clock.known, true)
  assert.ok(Math.abs(w.clock.now() - w.session) <= 10)
})
