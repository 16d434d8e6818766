// What the page is about: the points, what is looked at from where, and the
// map's look. It is kept over a reload, can be undone, and goes into a link.
//
// turns are the start, turning points, and the destination. The first and the
// last may be null: not chosen yet, or cleared. A point is a place as the
// server tells it.

const KEPT = 'crowline-state'
const MOST_STEPS = 100
// Moves of one point by keys that follow one another so fast are one step back.
const ONE_MOVE = 2000

const LASTING = ['turns', 'at', 'mark', 'eye', 'tint'] // what undo brings back
const ALL = [...LASTING, 'relief', 'contours', 'x', 'y', 'level']

export class State {
  constructor() {
    Object.assign(this, { turns: [null, null], at: null, mark: null, eye: 'start', tint: false, relief: 50, contours: true, x: null, y: null, level: null })
    this.past = []
    this.future = []
    this.listeners = []
  }

  onChange(f) { this.listeners.push(f) }

  get start() { return this.turns[0] }
  get goal() { return this.turns[this.turns.length - 1] }
  // set are the points that are chosen, in order.
  get set() { return this.turns.filter(p => p) }
  // legs are pairs of points that follow one another, with the first's number.
  get legs() {
    const out = []
    for (let i = 1; i < this.turns.length; i++) if (this.turns[i - 1] && this.turns[i]) out.push(i - 1)
    return out
  }
  get whole() { return this.turns.every(p => p) }
  // eyePoint is where skyline and ground seen are looked at from.
  get eyePoint() { return this.eye === 'goal' ? this.goal : this.eye === 'at' ? this.at : this.start }

  // change takes new values as one step that can be undone; what says what was
  // done, for the button that undoes it.
  change(what, values, { lasting = true } = {}) {
    if (lasting) {
      const now = Date.now()
      const same = this.last && this.last.what === what && now - this.last.when < ONE_MOVE
      if (!same) this.past.push({ what, values: pick(this, LASTING) })
      if (this.past.length > MOST_STEPS) this.past.shift()
      this.future = []
      this.last = { what, when: now }
    }
    this.take(values)
  }

  take(values) {
    const changed = ALL.filter(k => k in values && values[k] !== this[k])
    Object.assign(this, pick(values, changed))
    this.keep()
    for (const f of this.listeners) f(new Set(changed))
  }

  get undone() { return this.past[this.past.length - 1]?.what }
  get redone() { return this.future[this.future.length - 1]?.what }
  undo() { this.swap(this.past, this.future) }
  redo() { this.swap(this.future, this.past) }

  swap(from, to) {
    const step = from.pop()
    if (!step) return
    to.push({ what: step.what, values: pick(this, LASTING) })
    this.last = null
    this.take(step.values)
  }

  keep() {
    try {
      sessionStorage.setItem(KEPT, JSON.stringify(pick(this, ALL)))
    } catch { /* a browser that keeps nothing: the page works without */ }
  }

  // restore takes what was kept before a reload, and says whether there was any.
  restore() {
    let kept = null
    try {
      kept = JSON.parse(sessionStorage.getItem(KEPT))
    } catch { /* not ours, or none */ }
    if (!kept || !Array.isArray(kept.turns) || kept.turns.length < 2) return false
    Object.assign(this, pick(kept, ALL.filter(k => k in kept)))
    return true
  }

  // open takes a state as the server has it.
  open(s) {
    const turns = [...s.turns]
    while (turns.length < 2) turns.push(null)
    Object.assign(this, {
      turns, at: s.at ?? null, mark: s.mark ?? null, relief: s.relief, contours: s.contours, x: s.x ?? null, y: s.y ?? null, level: s.level ?? null,
      tint: s.seen !== 'off', eye: s.seen === 'off' ? (s.at ? 'at' : 'start') : s.seen
    })
    if (this.eye === 'at' && !this.at) this.eye = 'start'
  }

  // told is the state as the server takes it.
  told() {
    const at = this.eye === 'at' ? this.at : !this.tint && this.eye === 'goal' ? this.goal : null
    return {
      turns: this.set.length ? this.turns.map(p => p && asked(p)) : [], at: at && asked(at), mark: this.mark && asked(this.mark), seen: this.tint ? this.eye : 'off',
      relief: this.relief, contours: this.contours, x: whole(this.x), y: whole(this.y), level: this.level
    }
  }
}

const whole = v => v === null ? null : Math.round(v)
const pick = (from, keys) => Object.fromEntries(keys.map(k => [k, from[k]]))

// asked is a point as a request has it: as it was typed, so that the command
// that gives the same reads alike; or by its coordinates, with a name that is
// not in them.
export function asked(p) {
  if (p.lat === undefined) return { x: p.x, y: p.y }
  if (p.name && p.name !== p.text) return { lat: p.lat, lon: p.lon, name: p.name }
  return p.text ? { text: p.text } : { lat: p.lat, lon: p.lon }
}

// nameOf is what a point is called by its place in the row.
export function nameOf(i, count) { return i === 0 ? 'Start' : i === count - 1 ? 'Destination' : 'Turn ' + i }
