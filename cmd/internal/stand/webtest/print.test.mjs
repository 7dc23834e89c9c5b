// Tests of how lines of music share sheets of paper.
import assert from 'node:assert/strict'
import { test } from 'node:test'
import { distances, heightOf, place, share } from '../web/print.share.js'

// like makes n lines, each 1 above and 2 below the top of its staff.
const like = n => Array.from({ length: n }, () => ({ up: 1, down: 2 }))
const sizes = (first, n) => first.map((from, i) => (first[i + 1] ?? n) - from)
const shared = (lines, room, hard) => sizes(share(lines, distances(lines, { gap: 1, pitch: 3 }), () => room, hard), lines.length)

test('staves keep apart by their pitch, or by what lies between them', () => {
  assert.deepEqual(distances([{ up: 1, down: 2 }, { up: 1, down: 2 }, { up: 5, down: 2 }], { gap: 1, pitch: 6 }), [0, 6, 8])
})

test('lines need what they reach above, between and below', () => {
  const lines = like(3)
  assert.equal(heightOf(lines, distances(lines, { gap: 1, pitch: 3 }), 0, 3), 1 + 4 + 4 + 2)
})

test('what fits lies on one sheet', () => {
  assert.deepEqual(shared(like(5), 19), [5])
  assert.deepEqual(shared(like(1), 19), [1])
})

test('no line stands alone, and sheets are about equally full', () => {
  assert.deepEqual(shared(like(6), 19), [3, 3])
  for (let n = 6; n < 60; n++) {
    const got = shared(like(n), 19)
    assert.equal(got.length, Math.ceil(n / 5), `${n} lines`)
    assert.ok(Math.min(...got) >= 2 && Math.max(...got) <= 5, `${n} lines: ${got}`)
  }
})

test('the first sheet has less room', () => {
  const lines = like(9), apart = distances(lines, { gap: 1, pitch: 3 })
  assert.deepEqual(sizes(share(lines, apart, n => n === 0 ? 15 : 19), 9), [4, 5])
})

test('a sheet is turned where it is easy', () => {
  const hard = [1, 1, 1, 1, 1, 1, 1, 1]
  assert.deepEqual(shared(like(8), 19, hard), [4, 4])
  assert.deepEqual(shared(like(8), 19, hard.map((h, i) => i === 4 ? 0 : h)), [5, 3])
})

test('a line higher than a sheet has one of its own', () => {
  const lines = [{ up: 1, down: 2 }, { up: 40, down: 2 }, { up: 1, down: 2 }]
  assert.deepEqual(shared(lines, 19), [1, 1, 1])
})

test('what is left of a sheet goes between its lines, up to a measure', () => {
  const lines = like(3), apart = distances(lines, { gap: 1, pitch: 3 })
  assert.deepEqual(place(lines, apart, 0, 3, 15, 9), { tops: [1, 7, 13], extra: 2 })
  assert.deepEqual(place(lines, apart, 0, 3, 15, 1), { tops: [1, 6, 11], extra: 1 })
  assert.deepEqual(place(lines, apart, 2, 3, 15, 1), { tops: [1], extra: 0 })
})
