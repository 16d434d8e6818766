// The part of the plane that the map shows, and how a hand, a wheel and keys
// move it.
//
// This is our own and not d3-zoom: the page needs a pan, a pinch and fixed
// scales, which is less code than that library's bundle needs to be held to
// its checksum. It puts nothing on the page, and stops at the scales that the
// tiles are drawn at, so lines and numbers of the map are always sharp.

import { perFrame } from './svg.js'

// A press that moves less than this, in CSS pixels, is a click.
const STILL = 4
// An arrow key moves the map by this share of its shorter side.
const STEP = 0.2
// A map that is let go of while it moves glides on, and loses this share of its
// speed in so many milliseconds; slower than so many CSS pixels a millisecond it
// stands. Its speed is that of the last moments before the hand is lifted.
const GLIDE = 180
const STANDS = 0.02
const THROWN = 0.25
const LAST = 60
// Nor does it fly off, CSS pixels a millisecond.
const FASTEST = 3

// So much turn of a wheel, in CSS pixels, is one scale.
const NOTCH = 60

export class View {
  // resolutions are metres a pixel, from coarse to fine; bounds are of the
  // ground, metres on the plane: [west, south, east, north].
  constructor(element, resolutions, bounds) {
    Object.assign(this, { element, resolutions, bounds })
    this.x = (bounds[0] + bounds[2]) / 2
    this.y = (bounds[1] + bounds[3]) / 2
    this.level = 0
    this.scale = resolutions[0] // metres a pixel; between levels while pinched
    this.width = this.height = 1
    this.pointers = new Map()
    this.turned = 0
    this.listeners = []
    this.clicked = []
    this.tell = perFrame(() => { for (const f of this.listeners) f(this) })
    this.listen()
  }

  onChange(f) { this.listeners.push(f) }
  onClick(f) { this.clicked.push(f) }

  // toScreen and toPlane go between metres and CSS pixels of the element.
  toScreen(x, y) { return [this.width / 2 + (x - this.x) / this.scale, this.height / 2 - (y - this.y) / this.scale] }
  toPlane(px, py) { return [this.x + (px - this.width / 2) * this.scale, this.y - (py - this.height / 2) * this.scale] }

  get extent() {
    const w = this.width * this.scale / 2, h = this.height * this.scale / 2
    return [this.x - w, this.y - h, this.x + w, this.y + h]
  }

  resize(width, height) {
    if (width === this.width && height === this.height || !width || !height) return
    this.width = width
    this.height = height
    this.tell()
  }

  moveTo(x, y) {
    const [w, s, e, n] = this.bounds
    this.x = Math.min(Math.max(x, w), e)
    this.y = Math.min(Math.max(y, s), n)
    this.tell()
  }

  // zoomTo takes a level and keeps the place under a pixel where it is.
  zoomTo(level, px = this.width / 2, py = this.height / 2) {
    this.stand()
    level = Math.min(Math.max(Math.round(level), 0), this.resolutions.length - 1)
    this.rescale(this.resolutions[level], px, py)
    this.level = level
  }

  rescale(scale, px, py) {
    const [x, y] = this.toPlane(px, py)
    this.scale = scale
    const [x2, y2] = this.toPlane(px, py)
    this.moveTo(this.x + x - x2, this.y + y - y2)
  }

  // nearest is the level whose scale is nearest to what is shown.
  nearest() {
    let best = 0
    this.resolutions.forEach((r, i) => {
      if (Math.abs(Math.log(r / this.scale)) < Math.abs(Math.log(this.resolutions[best] / this.scale))) best = i
    })
    return best
  }

  // fit shows the points [x, y], with a margin, at the finest scale that holds
  // them, but no finer than finest metres a pixel.
  fit(points, finest = 0) {
    this.stand()
    const xs = points.map(p => p[0]), ys = points.map(p => p[1])
    const w = Math.max(...xs) - Math.min(...xs), h = Math.max(...ys) - Math.min(...ys)
    const margin = 64 // pixels of both sides: room for a handle
    const need = Math.max(w / Math.max(this.width - margin, margin), h / Math.max(this.height - margin, margin), finest)
    let level = 0
    this.resolutions.forEach((r, i) => { if (r >= need * 0.999) level = i })
    this.level = level
    this.scale = this.resolutions[level]
    this.moveTo((Math.max(...xs) + Math.min(...xs)) / 2, (Math.max(...ys) + Math.min(...ys)) / 2)
  }

  // holds reports whether a place is well inside what is shown.
  holds([x, y], margin = 24) {
    const [px, py] = this.toScreen(x, y)
    return px >= margin && py >= margin && px <= this.width - margin && py <= this.height - margin
  }

  at(event) {
    const box = this.element.getBoundingClientRect()
    return [event.clientX - box.left, event.clientY - box.top]
  }

  listen() {
    const e = this.element
    e.addEventListener('pointerdown', event => {
      if (event.pointerType === 'mouse' && event.button !== 0) return
      this.stand()
      this.trail = []
      e.setPointerCapture(event.pointerId)
      this.pointers.set(event.pointerId, this.at(event))
      if (this.pointers.size === 1) this.pressed = { at: this.at(event), moved: false }
      else this.pressed.moved = true
      this.grip()
    })
    e.addEventListener('pointermove', event => {
      if (!this.pointers.has(event.pointerId)) return
      this.pointers.set(event.pointerId, this.at(event))
      const [px, py] = this.at(event)
      if (!this.pressed.moved && Math.hypot(px - this.pressed.at[0], py - this.pressed.at[1]) < STILL) return
      this.pressed.moved = true
      this.trail.push([event.timeStamp, px, py])
      this.follow()
    })
    const lifted = event => {
      if (!this.pointers.delete(event.pointerId)) return
      if (this.pointers.size) { this.trail = []; return this.grip() }
      if (this.scale !== this.resolutions[this.level]) this.zoomTo(this.nearest(), ...this.held.middle)
      else if (event.type === 'pointerup' && this.pressed.moved) this.glide(event.timeStamp)
      if (event.type === 'pointerup' && !this.pressed.moved) {
        for (const f of this.clicked) f(...this.toPlane(...this.at(event)))
      }
    }
    e.addEventListener('pointerup', lifted)
    e.addEventListener('pointercancel', lifted)
    e.addEventListener('wheel', event => {
      event.preventDefault()
      this.stand()
      const unit = [1, 16, 400][event.deltaMode] ?? 1
      this.turned += event.deltaY * unit
      const steps = Math.trunc(this.turned / NOTCH)
      if (!steps) return
      this.turned -= steps * NOTCH
      this.zoomTo(this.level - Math.sign(steps), ...this.at(event))
    }, { passive: false })
    e.addEventListener('keydown', event => {
      if (event.target !== e || event.ctrlKey || event.metaKey || event.altKey) return
      this.stand()
      const step = STEP * Math.min(this.width, this.height) * this.scale * (event.shiftKey ? 0.2 : 1)
      const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key]
      if (move) this.moveTo(this.x + move[0] * step, this.y + move[1] * step)
      else if (event.key === '+' || event.key === '=') this.zoomTo(this.level + 1)
      else if (event.key === '-') this.zoomTo(this.level - 1)
      else if (event.key === 'Enter' || event.key === ' ') for (const f of this.clicked) f(this.x, this.y)
      else return
      event.preventDefault()
    })
  }

  // glide lets the map go on as it was thrown, where the reader's settings do not
  // ask for less motion.
  glide(now) {
    const trail = this.trail.filter(([t]) => now - t <= LAST)
    if (trail.length < 2 || matchMedia('(prefers-reduced-motion: reduce)').matches) return
    const [t, x, y] = trail[0], [t2, x2, y2] = trail[trail.length - 1]
    let vx = (x2 - x) / Math.max(t2 - t, 1), vy = (y2 - y) / Math.max(t2 - t, 1)
    const speed = Math.hypot(vx, vy)
    if (speed < THROWN) return
    vx *= Math.min(1, FASTEST / speed)
    vy *= Math.min(1, FASTEST / speed)
    let before = performance.now()
    const step = when => {
      const ms = Math.min(Math.max(when - before, 0), 50)
      before = when
      this.moveTo(this.x - vx * ms * this.scale, this.y + vy * ms * this.scale)
      const left = Math.exp(-ms / GLIDE)
      vx *= left
      vy *= left
      this.gliding = Math.hypot(vx, vy) > STANDS ? requestAnimationFrame(step) : null
    }
    this.gliding = requestAnimationFrame(step)
  }

  // stand stops a map that glides.
  stand() {
    if (this.gliding) cancelAnimationFrame(this.gliding)
    this.gliding = null
  }

  // grip remembers where the hand holds the map.
  grip() {
    const [a, b] = [...this.pointers.values()]
    const middle = b ? [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] : a
    this.held = { place: this.toPlane(...middle), middle, spread: b ? Math.hypot(a[0] - b[0], a[1] - b[1]) : 0, scale: this.scale }
  }

  // follow brings the place that is held under the hand.
  follow() {
    const [a, b] = [...this.pointers.values()]
    const middle = b ? [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] : a
    if (b && this.held.spread > 0) {
      const finest = this.resolutions[this.resolutions.length - 1], coarsest = this.resolutions[0]
      const scale = this.held.scale * this.held.spread / Math.max(Math.hypot(a[0] - b[0], a[1] - b[1]), 1)
      this.scale = Math.min(Math.max(scale, finest), coarsest)
    }
    this.held.middle = middle
    const [x, y] = this.toPlane(...middle)
    this.moveTo(this.x + this.held.place[0] - x, this.y + this.held.place[1] - y)
  }
}
