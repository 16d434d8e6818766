// The skyline of the chosen point, as the eye would see it from there: a part
// of the round, turned like a head, by hand or by arrow keys. What can be told
// apart in it is lettered, and a letter that is pressed becomes the mark.

import { svg, html, set, perFrame, path } from './svg.js'
import { distance, dial, upDown } from './units.js'

const TOP = 26, FOOT = 38
// A degree is at least so wide, in CSS pixels; a narrow screen shows less of the round.
const LEAST_DEGREE = 6
// Ground farther off is paler, by these distances in metres.
const TONES = [1000, 3000, 10000]
// Heights are drawn at most so many times as large as widths.
const MOST_STEEP = 4

const STILL = 4

export class Skyline {
  // on is point(ray or null) and mark(thing).
  constructor(on) {
    this.strip = document.getElementById('sky')
    this.note = document.getElementById('sky-note')
    this.list = document.getElementById('things')
    this.on = on
    this.facing = 0
    this.answer = null
    this.at = null
    this.body = svg('g')
    this.signs = svg('g')
    this.cursor = svg('g', { class: 'cursor' })
    this.strip.append(this.body, this.cursor, this.signs)
    this.draw = perFrame(() => this.drawNow())
    this.listen()
  }

  // show takes the server's answer, or null with words why there is none.
  show(answer, { facing, line, declination, chosen, why = '' } = {}) {
    this.answer = answer
    this.why = why
    if (facing !== undefined) this.facing = facing
    this.line = line
    if (declination !== undefined) this.declination = declination
    this.chosen = chosen ?? null
    if (!answer) this.at = null
    this.drawNow()
  }

  face(deg) { this.facing = (deg % 360 + 360) % 360; this.draw() }
  choose(thing) { this.chosen = thing; this.draw() }
  resize() { this.draw() }

  drawNow() {
    const box = this.strip.getBoundingClientRect()
    if (!box.width) return
    set(this.strip, { viewBox: `0 0 ${box.width} ${box.height}`, 'aria-disabled': this.answer ? null : 'true' })
    this.width = box.width
    this.height = box.height
    if (!this.answer) {
      this.note.textContent = this.why || 'Choose a point to see the skyline from it.'
      this.body.replaceChildren()
      this.signs.replaceChildren()
      this.cursor.replaceChildren()
      this.list.replaceChildren()
      return
    }
    const s = this.answer.strip
    this.step = s.step_deg
    this.span = Math.min(360, box.width / LEAST_DEGREE)
    this.from = this.facing - this.span / 2
    this.kx = box.width / this.span
    let lo = -0.5, hi = 1
    for (const a of s.angle_deg) if (a !== null) { lo = Math.min(lo, a); hi = Math.max(hi, a) }
    const room = box.height - TOP - FOOT
    this.ky = Math.min(room / (hi - lo + 0.6), this.kx * MOST_STEEP)
    this.lo = lo - Math.max(0.3, (room / this.ky - (hi - lo)) * 0.15)
    const children = this.ground()
    children.push(svg('path', { class: 'level', d: path([[0, this.y(0)], [box.width, this.y(0)]]) }))
    children.push(...this.rule())
    this.body.replaceChildren(...children)
    this.drawThings()
    const ratio = this.ky / this.kx
    const heights = ratio > 1.15 || ratio < 0.87 ? `; heights drawn ${ratio.toFixed(1)} times as large as widths` : ''
    this.note.textContent = `From ${this.answer.at.name ?? this.answer.at.text}, facing ${dial(this.facing)}° true${heights}. Drag it sideways to turn round.`
    this.drawCursor()
  }

  x(bearing) {
    let b = (bearing - this.from) % 360
    if (b < 0) b += 360
    // just left of the strip rather than far right of it
    if (b > this.span + (360 - this.span) / 2) b -= 360
    return b * this.kx
  }
  y(angle) { return this.height - FOOT - (angle - this.lo) * this.ky }

  // ground is the skyline's land in tones by distance, and the edges within it.
  ground() {
    const s = this.answer.strip, n = s.angle_deg.length, foot = this.height - FOOT
    const first = Math.floor(this.from / this.step) - 1, last = Math.ceil((this.from + this.span) / this.step) + 1
    const out = [], line = [], unknown = []
    let run = null, run2 = null
    const runs = []
    for (let k = first; k <= last; k++) {
      const i = (k % n + n) % n, x = (k * this.step - this.from) * this.kx
      if (s.angle_deg[i] === null) {
        run = null
        unknown.push(x)
        run2 = null
        continue
      }
      const q = [x, this.y(s.angle_deg[i])], tone = TONES.filter(t => s.distance_m[i] >= t).length
      if (!run2) line.push(run2 = [])
      run2.push(q)
      if (!run || run.tone !== tone) {
        if (run) { const m = [(run.points[run.points.length - 1][0] + x) / 2, (run.points[run.points.length - 1][1] + q[1]) / 2]; run.points.push(m); run = { tone, points: [m] } } else run = { tone, points: [] }
        runs.push(run)
      }
      run.points.push(q)
    }
    for (const r of runs) {
      if (r.points.length < 2) continue
      out.push(svg('path', { class: 'land tone' + r.tone, d: path([[r.points[0][0], foot], ...r.points, [r.points[r.points.length - 1][0], foot]]) + 'Z' }))
    }
    for (const [a, b] of spans(unknown, this.step * this.kx)) out.push(svg('rect', { x: a, y: TOP, width: b - a, height: foot - TOP, fill: 'url(#hatch-void)' }))
    for (const ridge of this.answer.ridges ?? []) out.push(...this.ridge(ridge))
    out.push(svg('path', { class: 'line', d: path(...line) }))
    return out
  }

  ridge(flat) {
    const pieces = []
    let piece = null, before = 0
    for (let i = 0; i + 2 < flat.length; i += 3) {
      const x = this.x(flat[i]), y = this.y(flat[i + 1])
      if (x < -20 || x > this.width + 20 || y > this.height - FOOT) { piece = null; continue }
      if (!piece || Math.abs(x - before) > this.width / 2) pieces.push(piece = [])
      piece.push([x, y])
      before = x
    }
    return pieces.filter(p => p.length > 1).map(p => svg('path', { class: 'ridge', d: path(p) }))
  }

  // rule is the scale of bearings under the strip: true, and magnetic where known.
  rule() {
    const out = [], foot = this.height - FOOT
    const every = this.kx > 12 ? 5 : 10
    const ticks = []
    for (let b = Math.ceil(this.from); b <= this.from + this.span; b++) {
      const x = (b - this.from) * this.kx
      ticks.push([[x, foot], [x, foot + (b % 10 === 0 ? 7 : b % 5 === 0 ? 5 : 3)]])
      if (b % every === 0 && x > 78 && x < this.width - 14) {
        const t = (b % 360 + 360) % 360, point = { 0: ' N', 90: ' E', 180: ' S', 270: ' W' }[t] ?? ''
        out.push(svg('text', { x, y: foot + 18, 'text-anchor': 'middle', class: point ? 'strong' : null, text: dial(t) + '°' + point }))
        if (typeof this.declination === 'number') out.push(svg('text', { x, y: foot + 32, 'text-anchor': 'middle', class: 'magnetic', text: dial(t - this.declination) + '°' }))
      }
    }
    out.push(svg('path', { class: 'axis', d: path(...ticks, [[0, foot], [this.width, foot]]) }), svg('text', { x: 0, y: foot + 18, text: 'true' }))
    if (typeof this.declination === 'number') out.push(svg('text', { x: 0, y: foot + 32, class: 'magnetic', text: 'magnetic' }))
    if (typeof this.line === 'number') {
      const x = this.x(this.line)
      if (x > 0 && x < this.width) out.push(svg('path', { class: 'heading', d: `M${x} ${foot}L${x - 6} ${foot - 11}L${x + 6} ${foot - 11}Z` }, svg('title', { text: 'the way of the leg' })))
    }
    return out
  }

  drawThings() {
    const things = this.answer.things ?? []
    const placed = []
    const signs = []
    const order = things.map((t, i) => ({ t, i })).sort((a, b) => a.t.true_deg - b.t.true_deg)
    order.forEach(({ t }, k) => { t.label = String(k + 1) })
    for (const { t, i } of order) {
      const x = this.x(t.true_deg)
      if (x < 6 || x > this.width - 6) continue
      const y = this.y(t.angle_deg)
      let row = Math.max(Math.min(y - 16, this.height - FOOT - 20), 12)
      // figures that would cover one another go up
      for (let turns = 0; turns < 6 && placed.some(p => Math.abs(p[0] - x) < 20 && Math.abs(p[1] - row) < 19); turns++) row -= 19
      row = Math.max(row, 10)
      placed.push([x, row])
      const chosen = this.isChosen(t)
      const g = svg('g', { class: 'thing' + (chosen ? ' is-chosen' : ''), role: 'button', tabindex: 0, 'aria-pressed': String(chosen), 'data-thing': i, 'aria-label': `${t.label}: ${t.words}. Make it the mark` },
        svg('path', { class: 'tie', d: path([[x, row + 8], [x, y]]) }), svg('circle', { cx: x, cy: y, r: 2.5, class: 'dot' }),
        svg('rect', { class: 'focus', x: x - 12, y: row - 12, width: 24, height: 24 }), svg('rect', { class: 'body', x: x - 9, y: row - 9, width: 18, height: 18 }),
        svg('text', { x, y: row + 4.5, 'text-anchor': 'middle', text: t.label }))
      g.addEventListener('click', () => this.on.mark(t))
      g.addEventListener('keydown', e => { if (e.key === 'Enter' || e.key === ' ') { e.preventDefault(); e.stopPropagation(); this.on.mark(t) } })
      const point = () => this.on.point({ ray: t.ray, x: t.x, y: t.y, label: t.label, words: distance(t.distance_m) })
      g.addEventListener('focus', point)
      g.addEventListener('blur', () => this.on.point(null))
      signs.push(g)
    }
    const focused = this.signs.contains(document.activeElement) ? document.activeElement.dataset.thing : null
    this.signs.replaceChildren(...signs)
    if (focused !== null) this.signs.querySelector(`[data-thing="${focused}"]`)?.focus()
    this.fillList(order.map(o => o.t))
  }

  fillList(things) {
    const key = things.map(t => t.words + this.isChosen(t)).join('|')
    if (key === this.listed) return
    this.listed = key
    this.list.replaceChildren(...things.map(t => html('li', {}, html('button', {
      type: 'button', class: 'plain', 'aria-pressed': String(this.isChosen(t)),
      onclick: () => { this.face(t.true_deg); this.on.mark(t) },
      onfocus: () => this.on.point({ ray: t.ray, x: t.x, y: t.y, label: t.label, words: distance(t.distance_m) }),
      onblur: () => this.on.point(null),
      onpointerenter: () => this.on.point({ ray: t.ray, x: t.x, y: t.y, label: t.label, words: distance(t.distance_m) }),
      onpointerleave: () => this.on.point(null)
    }, html('b', { text: t.label }), ' ' + t.words))))
  }

  isChosen(t) { return Boolean(this.chosen) && Math.hypot(this.chosen.x - t.x, this.chosen.y - t.y) < 2 }

  // bearingTo is the bearing of a place of the plane, from the directions in
  // which the strip's own points lie: no geodesy is done here.
  bearingTo(x, y) {
    const a = this.answer
    if (!a) return null
    const wanted = Math.atan2(x - a.at.x, y - a.at.y)
    if (this.angles?.of !== a) {
      this.angles = { of: a, list: a.strip.x.map((sx, i) => sx === null ? null : Math.atan2(sx - a.at.x, a.strip.y[i] - a.at.y)) }
    }
    let best = null, least = Infinity
    this.angles.list.forEach((v, i) => {
      if (v === null) return
      const off = Math.abs(Math.atan2(Math.sin(v - wanted), Math.cos(v - wanted)))
      if (off < least) { least = off; best = i }
    })
    return best === null || least > 0.02 ? null : best * a.strip.step_deg
  }

  // setAt shows a bearing in the strip; tell draws its ray on the map as well.
  setAt(bearing, { tell = true } = {}) {
    this.at = bearing
    if (tell) this.on.point(bearing === null ? null : this.ray(bearing))
    this.drawCursor()
  }

  index(bearing) {
    const n = this.answer.strip.angle_deg.length
    return (Math.round(bearing / this.step) % n + n) % n
  }

  ray(bearing) {
    const s = this.answer.strip, i = this.index(bearing)
    if (s.x[i] === null) return null
    return { ray: [this.answer.at.x, this.answer.at.y, s.x[i], s.y[i]], x: s.x[i], y: s.y[i], words: distance(s.distance_m[i]) }
  }

  words(bearing) {
    const s = this.answer.strip, i = this.index(bearing)
    const t = dial(bearing) + '° true'
    if (s.angle_deg[i] === null) return t + ', skyline not known'
    return `${t}, ${distance(s.distance_m[i])}, ${upDown(s.angle_deg[i])}`
  }

  drawCursor() {
    if (this.at === null || !this.answer) {
      this.cursor.replaceChildren()
      return set(this.strip, { 'aria-valuenow': Math.round(this.facing), 'aria-valuetext': this.answer ? `facing ${dial(this.facing)} degrees true` : 'no skyline' })
    }
    const x = this.x(this.at), words = this.words(this.at), right = x > this.width / 2
    set(this.strip, { 'aria-valuenow': Math.round(this.at), 'aria-valuetext': words })
    if (x < -5 || x > this.width + 5) return this.cursor.replaceChildren()
    this.cursor.replaceChildren(svg('path', { d: path([[x, TOP - 10], [x, this.height - FOOT]]) }),
      svg('text', { class: 'name', x: x + (right ? -7 : 7), y: this.height - FOOT - 7, 'text-anchor': right ? 'end' : 'start', text: words }))
  }

  listen() {
    const s = this.strip
    const bearing = event => this.from + (event.clientX - s.getBoundingClientRect().left) / this.kx
    s.addEventListener('pointerdown', event => {
      if (!this.answer || event.target.closest('.thing')) return
      this.held = { id: event.pointerId, x: event.clientX, facing: this.facing, moved: false }
      s.setPointerCapture(event.pointerId)
      this.setAt((bearing(event) % 360 + 360) % 360)
    })
    s.addEventListener('pointermove', event => {
      if (!this.answer) return
      if (this.held?.id === event.pointerId) {
        const by = event.clientX - this.held.x
        if (!this.held.moved && Math.abs(by) < STILL) return
        this.held.moved = true
        this.face(this.held.facing - by / this.kx)
        return
      }
      this.setAt((bearing(event) % 360 + 360) % 360)
    })
    const up = event => { if (this.held?.id === event.pointerId) this.held = null }
    s.addEventListener('pointerup', up)
    s.addEventListener('pointercancel', up)
    s.addEventListener('pointerleave', () => { if (!this.held && document.activeElement !== s) this.setAt(null) })
    s.addEventListener('blur', () => this.setAt(null))
    s.addEventListener('keydown', event => {
      if (!this.answer || event.target !== s) return
      const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -15, PageUp: 15 }[event.key]
      if (!step) return
      event.preventDefault()
      const b = (((this.at ?? this.facing) + step) % 360 + 360) % 360
      const x = this.x(b)
      if (x < 20 || x > this.width - 20) this.facing = b
      this.at = b
      this.drawNow()
      this.setAt(b)
    })
  }
}

// spans joins positions that follow one another into stretches.
function spans(xs, step) {
  const out = []
  for (const x of xs) {
    if (out.length && x - out[out.length - 1][1] < step * 1.5) out[out.length - 1][1] = x + step
    else out.push([x, x + step])
  }
  return out
}
