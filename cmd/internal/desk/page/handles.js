// The points that can be taken hold of: a ring for the start, a triangle for
// the destination, numbered rings for turning points, a lens for the eye. Each
// is reached by Tab and moved by arrow keys, like by hand.

import { svg, set, perFrame } from './svg.js'

// An arrow key moves a point by so many CSS pixels; with Shift by one.
const KEY_STEP = 10
// A point that is held so near the map's edge, CSS pixels, moves the map under it:
// by so many pixels a frame at the edge itself.
const RIM = 28
const DRIFT = 9
// So long after the last key, in milliseconds, the point counts as put down.
const KEY_REST = 500

const shapes = {
  start: () => [svg('circle', { r: 10, class: 'body' }), svg('circle', { r: 2.2, class: 'dot' })],
  goal: () => [svg('path', { d: 'M0 -13L11.5 8L-11.5 8Z', class: 'body' }), svg('circle', { cy: 1, r: 2.2, class: 'dot' })],
  ghost: () => [svg('path', { d: 'M0 -13L11.5 8L-11.5 8Z', class: 'body' })],
  turn: h => [svg('circle', { r: 9, class: 'body' }), svg('text', { y: 4.5, 'text-anchor': 'middle', text: h.number })],
  add: () => [svg('path', { d: 'M0 -7L7 0L0 7L-7 0Z', class: 'body' }), svg('path', { d: 'M-3 0H3M0 -3V3', class: 'sign' })],
  eye: () => [svg('path', { d: 'M-14 0Q0 -13 14 0Q0 13 -14 0Z', class: 'body' }), svg('circle', { r: 4, class: 'dot' })]
}

export class Handles {
  // on is begin(id), move(id, x, y), end(id), cancel(id), clear(id).
  constructor(view, group, on) {
    Object.assign(this, { view, group, on, list: [], made: new Map(), held: null })
    this.draw = perFrame(() => this.drawNow())
    // one answer a frame, for the place where the hand is then
    this.follow = perFrame(() => {
      if (!this.held?.to) return
      const { id, to } = this.held
      this.held.to = null
      this.on.move(id, ...to)
    })
    view.onChange(() => this.draw())
  }

  // show takes the points: id, kind, x, y and label. One that is held stays
  // where the hand is.
  show(list) {
    this.list = list
    for (const [id, e] of this.made) if (!list.some(h => h.id === id)) { e.remove(); this.made.delete(id) }
    let before = null
    for (const h of list) {
      let e = this.made.get(h.id)
      const look = h.kind + h.number
      // what is held stays what it is: another element would let go of the hand
      if (!e || e.dataset.look !== look && this.held?.id !== h.id) {
        const next = this.make(h)
        next.dataset.look = look
        // what has the focus keeps it, also where it becomes another shape
        const focused = e && document.activeElement === e
        if (e) e.replaceWith(next)
        else if (before) before.after(next)
        else this.group.prepend(next)
        if (focused) next.focus()
        this.made.set(h.id, e = next)
      }
      set(e, { 'aria-label': h.label })
      before = e
    }
    this.draw()
  }

  place(id) { return this.list.find(h => h.id === id) }

  drawNow() {
    for (const h of this.list) {
      const [x, y] = this.view.toScreen(h.x, h.y)
      const e = this.made.get(h.id)
      e?.setAttribute('transform', `translate(${x.toFixed(1)} ${y.toFixed(1)})`)
      e?.classList.toggle('near', h.kind !== 'add' || h.room)
    }
  }

  make(h) {
    const e = svg('g', { class: 'handle ' + h.kind, tabindex: 0, role: 'button', 'aria-roledescription': 'movable point', 'data-handle': h.id },
      svg('circle', { r: h.kind === 'add' ? 16 : 22, class: 'grip' }), svg('circle', { r: h.kind === 'add' ? 12 : 17, class: 'focus' }), ...shapes[h.kind](h))
    const id = h.id
    e.addEventListener('pointerdown', event => {
      if (event.pointerType === 'mouse' && event.button !== 0) return
      event.stopPropagation()
      event.preventDefault()
      this.settle()
      e.focus({ preventScroll: true })
      e.setPointerCapture(event.pointerId)
      const [px, py] = this.view.at(event), [hx, hy] = this.view.toScreen(this.place(id).x, this.place(id).y)
      this.held = { id, pointer: event.pointerId, off: [hx - px, hy - py], begun: false, from: [px, py] }
    })
    e.addEventListener('pointermove', event => {
      if (this.held?.id !== id || this.held.pointer !== event.pointerId) return
      const [px, py] = this.view.at(event)
      if (!this.held.begun) {
        if (Math.hypot(px - this.held.from[0], py - this.held.from[1]) < 2) return
        this.begin(id)
      }
      // not off the map, where it could not be taken hold of again
      const x = Math.min(Math.max(px + this.held.off[0], 0), this.view.width), y = Math.min(Math.max(py + this.held.off[1], 0), this.view.height)
      this.held.at = [x, y]
      this.go(id, ...this.view.toPlane(x, y))
      this.drift()
    })
    const up = event => {
      if (this.held?.id !== id || this.held.pointer !== event.pointerId) return
      this.drop(event.type === 'pointerup')
    }
    e.addEventListener('pointerup', up)
    e.addEventListener('pointercancel', up)
    e.addEventListener('keydown', event => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key]
      if (step && !event.ctrlKey && !event.metaKey && !event.altKey) {
        event.preventDefault()
        event.stopPropagation()
        if (this.held && (this.held.id !== id || this.held.pointer !== undefined)) return
        if (!this.held) { this.held = { id }; this.begin(id) }
        const far = (event.shiftKey ? 1 : KEY_STEP) * this.view.scale, at = this.held.to ?? [this.place(id).x, this.place(id).y]
        const to = [at[0] + step[0] * far, at[1] + step[1] * far]
        this.go(id, ...to)
        // keys reach ground beyond the map's edge too
        if (!this.view.holds(to, RIM)) this.view.moveTo(this.view.x + step[0] * far, this.view.y + step[1] * far)
        clearTimeout(this.rest)
        this.rest = setTimeout(() => this.settle(), KEY_REST)
      } else if (event.key === 'Escape' && this.held?.id === id) {
        event.preventDefault()
        this.drop(false)
      } else if (event.key === 'Delete' || event.key === 'Backspace') {
        event.preventDefault()
        this.drop(false)
        this.on.clear(id)
      }
    })
    e.addEventListener('blur', () => this.settle())
    return e
  }

  // drift moves the map while a hand holds a point at its edge: there is ground
  // beyond to be reached.
  drift() {
    if (this.drifting) return
    const step = () => {
      this.drifting = null
      if (!this.held?.at) return
      const { view } = this, [x, y] = this.held.at
      const push = (v, size) => v < RIM ? v / RIM - 1 : v > size - RIM ? 1 - (size - v) / RIM : 0
      const dx = push(x, view.width) * DRIFT, dy = push(y, view.height) * DRIFT
      if (!dx && !dy) return
      const before = [view.x, view.y]
      view.moveTo(view.x + dx * view.scale, view.y - dy * view.scale)
      if (view.x === before[0] && view.y === before[1]) return // the ground ends
      this.go(this.held.id, ...view.toPlane(x, y))
      this.drifting = requestAnimationFrame(step)
    }
    this.drifting = requestAnimationFrame(step)
  }

  begin(id) {
    this.held.begun = true
    this.made.get(id).classList.add('held')
    this.on.begin(id)
  }

  go(id, x, y) {
    const h = this.place(id)
    if (!h) return
    h.x = x
    h.y = y
    this.held.to = [x, y]
    this.draw()
    this.follow()
  }

  // settle puts down a point that keys have moved.
  settle() { if (this.held && this.held.pointer === undefined) this.drop(true) }

  drop(kept) {
    clearTimeout(this.rest)
    const held = this.held
    this.held = null
    if (!held) return
    this.made.get(held.id)?.classList.remove('held')
    if (!held.begun) return
    if (!kept) return this.on.cancel(held.id)
    const h = this.place(held.id)
    this.on.end(held.id, h.x, h.y)
  }
}
