// The map: tiles of the server's own drawing, the tint of ground seen, and the
// sheet's collar of grid numbers. What is drawn over it is in overlay.js.

import { get, stopped } from './api.js'
import { svg, perFrame, path } from './svg.js'


// Questions come first: a browser has six connections to a server, and tiles
// take no more than half of them.
const AT_ONCE = 3
const KEPT_PIXELS = 60e6

export class GroundMap {
  constructor(ground, view, state, tell) {
    Object.assign(this, { ground, view, state, tell })
    this.canvas = document.getElementById('tiles')
    this.tint = document.getElementById('tint')
    this.collar = document.getElementById('collar')
    this.frame = document.getElementById('frame')
    this.grid = svg('path', { class: 'grid' })
    document.getElementById('overlay').prepend(this.grid)
    // coarse to fine, as the view has them
    this.levels = [...ground.tiles.levels].sort((a, b) => b.m_per_px - a.m_per_px)
    this.tiles = new Map()
    this.loading = new Map()
    this.heights = new Map()
    this.seen = null
    this.score = null
    this.draw = perFrame(() => this.drawNow())
    view.onChange(() => this.draw())
  }

  get level() { return this.levels[this.view.level] }

  resize() {
    const box = this.frame.getBoundingClientRect()
    const ratio = Math.min(Math.max(devicePixelRatio || 1, 1), 2)
    this.ratio = ratio > 1.25 ? 2 : 1
    for (const c of [this.canvas, this.tint]) {
      c.width = Math.round(box.width * ratio)
      c.height = Math.round(box.height * ratio)
    }
    this.dense = ratio
    this.view.resize(box.width, box.height)
    this.drawNow() // at once: a canvas of another size is black till it is drawn
  }

  key(level, column, row) { return `${level}/${column}/${row}?relief=${this.state.relief}&contours=${this.state.contours ? 1 : 0}&ratio=${this.ratio}` }

  // span is the columns and rows of tiles of a level within the view.
  span(level) {
    const t = this.ground.tiles, size = t.size_px * level.m_per_px
    const [w, s, e, n] = this.view.extent
    return { size, c0: Math.floor((w - t.x0) / size), c1: Math.floor((e - t.x0) / size), r0: Math.floor((t.y0 - n) / size), r1: Math.floor((t.y0 - s) / size) }
  }

  drawNow() {
    const { view, canvas } = this, t = this.ground.tiles
    const g = canvas.getContext('2d', { alpha: false })
    g.setTransform(this.dense, 0, 0, this.dense, 0, 0)
    g.fillStyle = '#fff'
    g.fillRect(0, 0, view.width, view.height)
    g.imageSmoothingEnabled = true
    const wanted = []
    let whole = true
    // coarser tiles stand in until the level's own are there
    const shown = this.levels.slice(Math.max(view.level - 2, 0), view.level + 1)
    for (const level of shown) {
      const own = level === this.level
      const { size, c0, c1, r0, r1 } = this.span(level)
      for (let r = r0; r <= r1; r++) {
        for (let c = c0; c <= c1; c++) {
          const key = this.key(level.level, c, r)
          const tile = this.tiles.get(key)
          if (own && tile === undefined) {
            whole = false
            wanted.push({ key, far: Math.hypot(c + 0.5 - (view.x - t.x0) / size, r + 0.5 - (t.y0 - view.y) / size) })
          }
          if (tile === undefined || tile?.failed) continue
          const [px, py] = view.toScreen(t.x0 + c * size, t.y0 - r * size)
          const wide = size / view.scale
          const x = snap(px, this.dense), y = snap(py, this.dense), x2 = snap(px + wide, this.dense), y2 = snap(py + wide, this.dense)
          if (tile) {
            tile.used = performance.now()
            g.drawImage(tile.image, x, y, x2 - x, y2 - y)
          } else hatch(g, x, y, x2 - x, y2 - y)
        }
      }
    }
    for (const [key, control] of this.loading) {
      if (!wanted.some(w => w.key === key)) { control.abort(); this.loading.delete(key) }
    }
    wanted.sort((a, b) => a.far - b.far)
    for (const { key } of wanted) if (!this.loading.has(key) && this.loading.size < AT_ONCE) this.load(key)
    // for whoever watches the page from outside: tests, and the bench
    this.frame.dataset.drawn = whole ? 'whole' : 'part'
    this.frame.dataset.view = `${view.x} ${view.y} ${view.scale}`
    this.drawTint()
    this.drawGrid()
  }

  async load(key) {
    const control = new AbortController()
    this.loading.set(key, control)
    try {
      const answer = await get('tile/' + key, control.signal)
      const tile = answer.status === 204 ? null : { image: await createImageBitmap(await answer.blob()), used: performance.now() }
      this.tiles.set(key, tile)
      this.drop()
    } catch (e) {
      if (!stopped(e)) {
        this.tiles.set(key, { failed: true })
        this.tell(e)
      }
    } finally {
      if (this.loading.get(key) === control) this.loading.delete(key)
      this.draw()
    }
  }

  // drop forgets the tiles that were drawn longest ago.
  drop() {
    const images = [...this.tiles].filter(([, t]) => t?.image)
    let pixels = images.reduce((sum, [, t]) => sum + t.image.width * t.image.height, 0)
    images.sort((a, b) => a[1].used - b[1].used)
    for (const [key, t] of images) {
      if (pixels <= KEPT_PIXELS) return
      pixels -= t.image.width * t.image.height
      t.image.close()
      this.tiles.delete(key)
    }
  }

  // again asks once more for what failed.
  again() {
    for (const [key, t] of this.tiles) if (t?.failed) this.tiles.delete(key)
    this.draw()
  }

  // show takes ground seen as the server tells it, or null for none.
  show(buffer) {
    this.seen = buffer && readPicture(buffer, STEPS)
    this.drawTint()
    return this.seen
  }

  // showScore takes how good ground is to stand on, or null for none.
  showScore(buffer) {
    this.score = buffer && readPicture(buffer, scored(new DataView(buffer).getUint32(12, true)))
    this.drawTint()
    return this.score
  }

  drawTint() {
    const g = this.tint.getContext('2d')
    g.setTransform(1, 0, 0, 1, 0, 0)
    g.clearRect(0, 0, this.tint.width, this.tint.height)
    if (!this.tint.width || !this.tint.height) return
    if (this.score) this.drawPicture(g, this.score, scored(this.score.count))
    if (this.seen) this.drawPicture(g, this.seen, STEPS)
  }

  drawPicture(g, s, steps) {
    const [px, py] = this.view.toScreen(s.x0, s.y0)
    const k = this.dense, wide = s.columns * s.cell / this.view.scale, high = s.rows * s.cell / this.view.scale
    for (const step of steps) {
      const mask = s.masks[step.value]
      if (!mask) continue
      this.layer ??= new OffscreenCanvas(1, 1)
      const l = this.layer
      if (l.width !== this.tint.width || l.height !== this.tint.height) { l.width = this.tint.width; l.height = this.tint.height }
      const o = l.getContext('2d')
      o.setTransform(1, 0, 0, 1, 0, 0)
      o.globalCompositeOperation = 'copy'
      o.imageSmoothingEnabled = false
      o.drawImage(mask, px * k, py * k, wide * k, high * k)
      o.globalCompositeOperation = 'source-in'
      o.fillStyle = pattern(o, step, k)
      // the lines stay on the ground when the map is moved
      const origin = this.view.toScreen(0, 0)
      o.setTransform(1, 0, 0, 1, Math.round(origin[0] * k) % (step.pitch * k), Math.round(origin[1] * k) % (step.pitch * k))
      o.fillRect(-step.pitch * k, -step.pitch * k, l.width + 2 * step.pitch * k, l.height + 2 * step.pitch * k)
      g.drawImage(l, 0, 0)
    }
  }

  // drawGrid rules the grid and numbers it in the collar, as a sheet does: the
  // principal digits large, the whole figure once.
  drawGrid() {
    const { view } = this, step = this.level.grid_m
    const numbers = []
    const lines = []
    const left = this.frame.offsetLeft, top = this.frame.offsetTop
    if (this.ground.plane.kind === 'utm' && step > 0) {
      const [w, s, e, n] = view.extent
      // a line where the pixels' edges are: sharp
      for (let v = Math.ceil(w / step) * step; v <= e; v += step) {
        const x = Math.round(view.toScreen(v, 0)[0]) + 0.5
        lines.push([[x, 0], [x, view.height]])
        if (x > 14 && x < view.width - 14) numbers.push(number(v, left + x, top - 5, step), number(v, left + x, top + view.height + 14, step))
      }
      for (let v = Math.ceil(s / step) * step; v <= n; v += step) {
        const y = Math.round(view.toScreen(0, v)[1]) + 0.5
        lines.push([[0, y], [view.width, y]])
        if (y > 10 && y < view.height - 10) numbers.push(number(v, left - 17, top + y + 4, step), number(v, left + view.width + 17, top + y + 4, step))
      }
    }
    this.grid.setAttribute('d', path(...lines))
    this.collar.replaceChildren(...numbers)
  }

  // height is the elevation at a place of the plane: a number, NaN in a void,
  // or undefined while it is not known yet.
  height(x, y) {
    const t = this.ground.tiles
    // a middling level: one answer serves the pointer for a while
    const level = this.level, size = t.size_px * level.m_per_px
    const c = Math.floor((x - t.x0) / size), r = Math.floor((t.y0 - y) / size)
    const key = `${level.level}/${c}/${r}`
    const grid = this.heights.get(key)
    if (grid === undefined) {
      this.heights.set(key, 'asked')
      get('elevations/' + key).then(async a => {
        this.heights.set(key, a.status === 204 ? null : new Float32Array(await a.arrayBuffer()))
        if (this.heights.size > 40) this.heights.delete(this.heights.keys().next().value)
      }).catch(() => this.heights.delete(key))
      return undefined
    }
    if (grid === 'asked') return undefined
    if (grid === null) return NaN
    const n = Math.sqrt(grid.length), fx = (x - t.x0 - c * size) / size * (n - 1), fy = (t.y0 - r * size - y) / size * (n - 1)
    const i = Math.min(Math.floor(fx), n - 2), j = Math.min(Math.floor(fy), n - 2), u = fx - i, v = fy - j
    const at = (a, b) => grid[b * n + a]
    return (at(i, j) * (1 - u) + at(i + 1, j) * u) * (1 - v) + (at(i, j + 1) * (1 - u) + at(i + 1, j + 1) * u) * v
  }
}

const snap = (v, dense) => Math.round(v * dense) / dense

function number(v, x, y, step) {
  // grid numbers: kilometres, the last two figures large
  const km = step >= 1000
  const figure = km ? String(Math.round(v / 1000)) : (v / 1000).toFixed(1)
  const cut = Math.max((km ? figure.length : figure.length - 2) - 2, 0)
  return svg('text', { x, y, 'text-anchor': 'middle' }, svg('tspan', { class: 'small', text: figure.slice(0, cut) }), svg('tspan', { text: figure.slice(cut) }))
}

// hatch is ground without data, as the server's own tiles have it.
function hatch(g, x, y, w, h) {
  g.save()
  g.beginPath()
  g.rect(x, y, w, h)
  g.clip()
  g.strokeStyle = '#8a8a8a'
  g.lineWidth = 0.75
  g.beginPath()
  for (let i = -h; i < w; i += 6) { g.moveTo(x + i, y); g.lineTo(x + i + h, y + h) }
  g.stroke()
  g.restore()
}

// How ground is tinted, by what the answer says of a cell. Each step has lines
// of its own, so that it does not hang on colour.
export const STEPS = [
  { value: 2, name: 'out of sight', tint: 'rgba(110, 60, 120, .34)', line: 'rgba(80, 30, 95, .8)', pitch: 8, lines: [[0, 8, 8, 0]] },
  { value: 4, name: 'within the data’s error', tint: 'rgba(110, 60, 120, .13)', line: 'rgba(80, 30, 95, .75)', pitch: 6, dot: true },
  { value: 3, name: 'not known', tint: 'rgba(90, 90, 90, .2)', line: 'rgba(60, 60, 60, .8)', pitch: 10, lines: [[0, 10, 10, 0], [0, 0, 10, 10]] }
]

// How ground is tinted by how good it is to stand on: bars that grow, upright, so
// that they are told from the slanting lines of ground out of sight.
const SCORES = [1, 2, 3, 4].map(n => ({ tint: `rgba(0, 97, 154, ${[0, 0.04, 0.1, 0.17, 0.26][n]})`, line: 'rgba(0, 70, 115, .8)', pitch: 8, bar: [0, 1, 2.4, 4.2, 8][n] }))

// scored are the tints of so many steps: the strongest ones.
export const scored = count => SCORES.slice(SCORES.length - count).map((s, i) => ({ ...s, value: i + 2 }))

const patterns = {}
function pattern(context, step, k) {
  const name = (step.bar ?? '') + '/' + step.value + '@' + k
  if (!patterns[name]) {
    const p = Math.max(Math.round(step.pitch * k), 1)
    const c = new OffscreenCanvas(p, p), g = c.getContext('2d')
    g.fillStyle = step.tint
    g.fillRect(0, 0, p, p)
    g.strokeStyle = g.fillStyle = step.line
    g.lineWidth = k
    if (step.bar) g.fillRect(Math.round(3 * k), 0, Math.max(Math.round(1.2 * k), 1), Math.round(step.bar * k))
    if (step.dot) g.fillRect(0, 0, Math.round(1.5 * k), Math.round(1.5 * k))
    for (const [x, y, x2, y2] of step.lines ?? []) {
      // three times, so that the corners join
      for (const d of [-1, 0, 1]) {
        g.beginPath()
        g.moveTo((x + d * step.pitch) * k - (x2 - x), y * k - (y2 - y))
        g.lineTo((x2 + d * step.pitch) * k + (x2 - x), y2 * k + (y2 - y))
        g.stroke()
      }
    }
    patterns[name] = c
  }
  return context.createPattern(patterns[name], 'repeat')
}

// swatch draws a step for the key.
export function swatch(step) {
  const c = document.createElement('canvas'), k = Math.min(devicePixelRatio || 1, 2)
  c.width = 26 * k
  c.height = 14 * k
  const g = c.getContext('2d')
  g.fillStyle = pattern(g, step, k)
  g.fillRect(0, 0, c.width, c.height)
  return c
}

// readPicture reads ground seen or a score: a mask for each step to tint.
function readPicture(buffer, steps) {
  const d = new DataView(buffer)
  if (d.getUint32(0, false) !== 0x434c5631) throw new Error('the picture came in a form this page does not know: reload the page')
  const columns = d.getUint32(4, true), rows = d.getUint32(8, true), length = d.getUint32(40, true)
  const said = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 44, length)))
  const cells = new Uint8Array(buffer, 44 + length, columns * rows)
  // in one pass: this is done many times a second while a point moves
  const images = [null, null, null, null, null, null] // by what a cell can hold
  const told = images.map((_, v) => steps.some(s => s.value === v))
  for (let i = 0; i < cells.length; i++) {
    const v = cells[i]
    if (told[v]) (images[v] ??= new Uint32Array(cells.length))[i] = 0xff000000
  }
  const masks = {}
  for (const { value } of steps) {
    if (!images[value]) continue
    const c = masks[value] = new OffscreenCanvas(columns, rows)
    c.getContext('2d').putImageData(new ImageData(new Uint8ClampedArray(images[value].buffer), columns, rows), 0, 0)
  }
  return { columns, rows, cells, masks, said, steps: d.getUint32(12, true) === 1 ? 3 : 2, count: d.getUint32(12, true), x0: d.getFloat64(16, true), y0: d.getFloat64(24, true), cell: d.getFloat64(32, true) }
}

