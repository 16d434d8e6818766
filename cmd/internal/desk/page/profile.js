// The profile under the map: ground, line of sight, what hides, contour lines
// crossed. A pointer or the arrow keys walk along it, and the map shows where.

import { svg, set, perFrame, path } from './svg.js'
import { distance, elevation, heightStep, distanceStep } from './units.js'
import { pairs } from './overlay.js'

const LEFT = 52, RIGHT = 14, TOP = 20, FOOT = 20
// Contour ticks closer than this, in CSS pixels, are left out: they would be a blur.
const TICKS_APART = 4

export class Profile {
  constructor(onPoint) {
    this.strip = document.getElementById('profile-strip')
    this.note = document.getElementById('profile-note')
    this.onPoint = onPoint
    this.legs = []
    this.at = null
    this.draw = perFrame(() => this.drawNow())
    this.body = svg('g')
    this.cursor = svg('g', { class: 'cursor' })
    this.strip.append(defs(), this.body, this.cursor)
    this.listen()
  }

  // show takes legs in order: profile, line on the plane and distance_m.
  show(legs) {
    let from = 0
    this.legs = legs.map(l => {
      const leg = { ...l, from, length: l.distance_m }
      from += l.distance_m
      return leg
    })
    this.length = from
    if (this.at > from) this.at = null
    this.drawNow()
  }

  resize() { this.draw() }

  drawNow() {
    const box = this.strip.getBoundingClientRect()
    this.width = box.width
    this.height = box.height
    if (!box.width) return
    set(this.strip, { viewBox: `0 0 ${box.width} ${box.height}` })
    if (!this.legs.length) {
      this.note.textContent = 'Set start and destination to see the ground between them.'
      this.body.replaceChildren()
      this.cursor.replaceChildren()
      set(this.strip, { 'aria-valuemax': 0, 'aria-valuenow': 0, 'aria-valuetext': 'no leg', 'aria-disabled': 'true' })
      return
    }
    let lo = Infinity, hi = -Infinity
    for (const { profile: p } of this.legs) {
      for (const e of p.elevation_m) if (e !== null) { lo = Math.min(lo, e); hi = Math.max(hi, e) }
      for (const e of [p.eye_m, p.target_m]) if (e !== null && e !== undefined) { lo = Math.min(lo, e); hi = Math.max(hi, e) }
    }
    if (lo > hi) { lo = 0; hi = 1 }
    const wide = box.width - LEFT - RIGHT, high = box.height - TOP - FOOT
    const air = Math.max((hi - lo) * 0.06, 2)
    this.lo = lo - air
    this.kx = wide / this.length
    this.ky = high / (hi - lo + 2 * air)
    const children = []
    const heights = heightStep(hi - lo + 2 * air, Math.max(high / 26, 1))
    for (let e = Math.ceil(this.lo / heights.step) * heights.step; this.y(e) > TOP - 4; e += heights.step) {
      children.push(svg('path', { class: 'rule', d: path([[LEFT, this.y(e)], [box.width - RIGHT, this.y(e)]]) }),
        svg('text', { x: LEFT - 6, y: this.y(e) + 4, 'text-anchor': 'end', text: String(Math.round(e / heights.unit)) + (this.y(e + heights.step) > TOP - 4 ? '' : ' ' + heights.name) }))
    }
    const along = distanceStep(this.length, Math.max(wide / 80, 1))
    for (let d = 0; d <= this.length + 1e-6; d += along.step) {
      const figure = Number((d / along.unit).toFixed(3))
      children.push(svg('path', { class: 'axis', d: path([[this.x(d), box.height - FOOT], [this.x(d), box.height - FOOT + 4]]) }),
        svg('text', { x: this.x(d), y: box.height - 4, 'text-anchor': 'middle', text: d === 0 ? '0 ' + along.name : figure }))
    }
    for (const leg of this.legs) this.drawLeg(leg, children, high)
    children.push(svg('path', { class: 'axis', d: path([[LEFT, TOP], [LEFT, box.height - FOOT], [box.width - RIGHT, box.height - FOOT], [box.width - RIGHT, TOP]]) }))
    this.body.replaceChildren(...children)
    const steeper = this.ky / this.kx
    this.scaleWords = `Heights drawn ${steeper >= 9.95 ? Math.round(steeper) : steeper.toFixed(1)} times as large as lengths.`
    set(this.strip, { 'aria-valuemax': Math.round(this.length), 'aria-disabled': null })
    this.drawCursor()
  }

  x(d) { return LEFT + d * this.kx }
  y(e) { return this.height - FOOT - (e - this.lo) * this.ky }

  drawLeg(leg, children) {
    const p = leg.profile, foot = this.height - FOOT
    // runs of ground that is known
    const runs = []
    let run = null
    p.distance_m.forEach((d, i) => {
      const e = p.elevation_m[i]
      if (e === null) { run = null; return }
      if (!run) runs.push(run = [])
      run.push([this.x(leg.from + d), this.y(e)])
    })
    const area = runs.map(r => path([[r[0][0], foot], ...r, [r[r.length - 1][0], foot]]) + 'Z').join('')
    children.push(svg('path', { d: area, class: 'ground' }))
    // the frame is hatched where nothing is known
    for (const [a, b] of p.unknown ?? []) children.push(svg('rect', { x: this.x(leg.from + a), y: TOP, width: Math.max((b - a) * this.kx, 2), height: foot - TOP, class: 'void', fill: 'url(#hatch-void)' }))
    for (const [a, b] of p.hidden ?? []) {
      const top = this.part(leg, a, b)
      if (top.length > 1) children.push(svg('path', { class: 'hidden', fill: 'url(#hatch-hidden)', d: path([...top, ...top.map(([x, y]) => [x, Math.min(y + 14, foot)]).reverse()]) + 'Z' }))
    }
    for (const [a, b] of p.steep ?? []) {
      const top = this.part(leg, a, b)
      if (top.length > 1) {
        children.push(svg('path', { class: 'steep', d: path(top) }), svg('path', { class: 'steep-ticks', d: path(top) }))
      }
    }
    for (const [a, b] of p.filled ?? []) children.push(svg('path', { class: 'filled', d: path(this.part(leg, a, b)) }))
    children.push(svg('path', { d: path(...runs), class: 'surface' }))
    const ticks = []
    let last = -Infinity
    for (const [d, e, index] of p.crossings ?? []) {
      const x = this.x(leg.from + d)
      if (x - last < TICKS_APART && !index) continue
      last = x
      ticks.push([[x, this.y(e) - (index ? 5 : 3)], [x, this.y(e) + (index ? 5 : 3)]])
    }
    children.push(svg('path', { d: path(...ticks), class: 'crossing' }))
    if (p.sight) {
      const sight = pairs(p.sight).map(([d, e]) => [leg.from + d, e])
      const stop = p.blocked_at_m === null || p.blocked_at_m === undefined ? Infinity : leg.from + p.blocked_at_m
      const [clear, cut] = split(sight, stop)
      children.push(svg('path', { d: path(clear.map(q => [this.x(q[0]), this.y(q[1])])), class: 'sight' }))
      if (cut.length > 1) children.push(svg('path', { d: path(cut.map(q => [this.x(q[0]), this.y(q[1])])), class: 'sight cut' }))
      if (stop < Infinity && p.blocker_elevation_m !== null) {
        const x = this.x(stop), y = this.y(p.blocker_elevation_m), end = x > this.width - 130
        children.push(svg('path', { class: 'blocker', d: `M${x - 5} ${y - 5}L${x + 5} ${y + 5}M${x - 5} ${y + 5}L${x + 5} ${y - 5}` }),
          svg('text', { class: 'name', x: x + (end ? -8 : 8), y: Math.max(y - 7, 12), 'text-anchor': end ? 'end' : 'start', text: 'hides the end: ' + distance(p.blocked_at_m) }))
      }
    }
    if (leg.from > 0) children.push(svg('path', { class: 'turn', d: path([[this.x(leg.from), TOP - 6], [this.x(leg.from), foot]]) }))
  }

  // part is the ground line from a to b, in pixels.
  part(leg, a, b) {
    const p = leg.profile, out = []
    const add = d => { const e = heightAt(p, d); if (e !== null) out.push([this.x(leg.from + d), this.y(e)]) }
    add(a)
    p.distance_m.forEach((d, i) => { if (d > a && d < b && p.elevation_m[i] !== null) out.push([this.x(leg.from + d), this.y(p.elevation_m[i])]) })
    add(b)
    return out
  }

  legAt(d) { return this.legs.find(l => d <= l.from + l.length) ?? this.legs[this.legs.length - 1] }

  // place is where a distance from the start lies on the plane.
  place(d) {
    const leg = this.legAt(d)
    return along(pairs(leg.line), (d - leg.from) / leg.length)
  }

  // setAt shows a distance from the start, or nothing for null.
  setAt(d, { tell = true } = {}) {
    this.at = d
    if (tell) this.onPoint(d === null || !this.legs.length ? null : this.place(d))
    this.drawCursor()
  }

  words(d) {
    const leg = this.legAt(d), own = d - leg.from
    const within = list => (list ?? []).some(([a, b]) => own >= a && own <= b)
    const parts = [distance(d), elevation(heightAt(leg.profile, own))]
    if (within(leg.profile.unknown)) parts.push('not known whether it is seen')
    else if (within(leg.profile.hidden)) parts.push(leg.from ? 'out of sight from the turn before' : 'out of sight from the start')
    if (within(leg.profile.steep)) parts.push('steep')
    return parts.join(', ')
  }

  drawCursor() {
    if (this.at === null || !this.legs.length) {
      this.cursor.replaceChildren()
      if (this.legs.length) this.note.textContent = this.scaleWords
      return set(this.strip, { 'aria-valuenow': 0, 'aria-valuetext': this.legs.length ? 'not on the leg yet' : 'no leg' })
    }
    const leg = this.legAt(this.at), e = heightAt(leg.profile, this.at - leg.from), x = this.x(this.at), words = this.words(this.at)
    this.note.textContent = words
    this.cursor.replaceChildren(svg('path', { d: path([[x, TOP - 4], [x, this.height - FOOT]]) }), ...(e === null ? [] : [svg('circle', { cx: x, cy: this.y(e), r: 4 })]))
    set(this.strip, { 'aria-valuenow': Math.round(this.at), 'aria-valuetext': words })
  }

  listen() {
    const s = this.strip
    const point = event => {
      if (!this.legs.length) return
      const x = event.clientX - s.getBoundingClientRect().left
      this.setAt(Math.min(Math.max((x - LEFT) / this.kx, 0), this.length))
    }
    s.addEventListener('pointermove', point)
    s.addEventListener('pointerdown', point)
    s.addEventListener('pointerleave', () => { if (document.activeElement !== s) this.setAt(null) })
    s.addEventListener('blur', () => this.setAt(null))
    s.addEventListener('keydown', event => {
      if (!this.legs.length) return
      const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[event.key]
      let d = this.at ?? 0
      if (step) d += step * this.length / 100
      else if (event.key === 'Home') d = 0
      else if (event.key === 'End') d = this.length
      else return
      event.preventDefault()
      this.setAt(Math.min(Math.max(d, 0), this.length))
    })
  }
}

// The profile is of the line of sight, whose ends are the highest ground within
// 2 m of the places: it may end a few metres before or after the leg.
const ENDS = 6

// heightAt is the ground between two points of a profile; null in a void.
export function heightAt(p, d) {
  const at = p.distance_m
  let lo = 0, hi = at.length - 1
  if (d < at[lo] - ENDS || d > at[hi] + ENDS) return null
  while (hi - lo > 1) {
    const middle = (lo + hi) >> 1
    if (at[middle] <= d) lo = middle
    else hi = middle
  }
  const a = p.elevation_m[lo], b = p.elevation_m[hi]
  if (a === null || b === null) return null
  const t = at[hi] > at[lo] ? (d - at[lo]) / (at[hi] - at[lo]) : 0
  return a + Math.min(Math.max(t, 0), 1) * (b - a)
}

// along is the place at a share of a line.
export function along(line, share) {
  const lengths = line.slice(1).map((q, i) => Math.hypot(q[0] - line[i][0], q[1] - line[i][1]))
  let left = Math.min(Math.max(share, 0), 1) * lengths.reduce((a, b) => a + b, 0)
  for (let i = 0; i < lengths.length; i++) {
    if (left <= lengths[i] || i === lengths.length - 1) {
      const t = lengths[i] ? Math.min(left / lengths[i], 1) : 0
      return [line[i][0] + t * (line[i + 1][0] - line[i][0]), line[i][1] + t * (line[i + 1][1] - line[i][1])]
    }
    left -= lengths[i]
  }
  return line[0]
}

function split(line, d) {
  const i = line.findIndex(q => q[0] >= d)
  if (i < 0) return [line, []]
  if (i === 0) return [[], line]
  const [a, b] = [line[i - 1], line[i]], t = (d - a[0]) / (b[0] - a[0]), q = [d, a[1] + t * (b[1] - a[1])]
  return [[...line.slice(0, i), q], [q, ...line.slice(i)]]
}

function defs() {
  const hatch = (id, size, d) => svg('pattern', { id, width: size, height: size, patternUnits: 'userSpaceOnUse' }, svg('path', { d }))
  return svg('defs', {}, hatch('hatch-hidden', 6, 'M-1 7L7 -1M-1 1L1 -1M5 7L7 5'), hatch('hatch-void', 8, 'M-1 -1L9 9M-1 7L1 9M7 -1L9 1'))
}
