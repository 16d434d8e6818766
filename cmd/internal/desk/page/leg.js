// Questions about the leg or the route: a quick answer while a point moves,
// the whole answer once it rests.

import { ask, Last, Latest, Refused, stopped } from './api.js'
import { asked } from './state.js'

// The most points one quick question takes.
const QUICK_MOST = 10

export class Leg {
  // on is quick(), whole(answer), wrong(error, first, count), working().
  constructor(on) {
    this.on = on
    this.legs = [] // what is shown of each leg; null where it is not known yet
    this.quick = new Latest(async (signal, question) => {
      try {
        this.take(question, await ask('quick', { turns: question.turns.map(asked) }, signal))
      } catch (e) {
        if (!stopped(e)) this.on.wrong(e, question.first, question)
      }
    })
    this.whole = new Last(async (signal, turns) => {
      const route = turns.length > 2
      try {
        const body = route ? { turns: turns.map(asked), title: '' } : { from: asked(turns[0]), to: asked(turns[1]) }
        const answer = await ask(route ? 'route' : 'leg', body, signal)
        const parts = route ? answer.legs : [answer]
        this.answered = this.asked
        this.answer = answer
        this.legs = parts.map((p, i) => ({ ...this.legs[i], ...p.draw, profile: p.profile, distance_m: (route ? answer.answer.legs?.[i]?.distance_m : answer.answer.distance_m) ?? this.legs[i]?.distance_m ?? p.profile.distance_m.at(-1) }))
        this.on.whole(answer, turns)
      } catch (e) {
        if (stopped(e)) return
        this.asked = null
        this.on.wrong(e, 0, { turns, whole: true })
      }
    })
  }

  // move asks for the legs of a point that is under a hand. turns are all the
  // points, i is the one that moves.
  move(turns, i) {
    this.rest()
    this.answered = null
    let first = i, last = i
    if (turns[i - 1]) first--
    if (turns[i + 1]) last++
    if (first === last) return false
    this.quick.ask({ turns: turns.slice(first, last + 1), first, count: turns.length, moved: turns[i], i })
    return true
  }

  // rest gives up what takes long.
  rest() {
    this.whole.stop()
    this.asked = null
  }

  // all asks for every leg: quickly, and then in whole where every point is
  // chosen.
  all(turns) {
    const now = JSON.stringify(turns.map(p => p && asked(p)))
    if (now === this.asked || now === this.answered) return
    this.rest()
    this.answered = null
    this.quick.stop()
    this.legs = turns.slice(1).map(() => null)
    let first = 0
    const rows = []
    while (first < turns.length) {
      if (!turns[first]) { first++; continue }
      let last = first
      while (turns[last + 1] && last - first < QUICK_MOST - 1) last++
      if (last > first) rows.push({ turns: turns.slice(first, last + 1), first, count: turns.length })
      first = Math.max(last, first + 1)
      if (first === turns.length - 1) break
    }
    if (rows.length === 1) this.quick.ask(rows[0])
    else this.rows(rows)
    if (turns.every(Boolean)) {
      this.asked = now
      this.on.working()
      this.whole.ask(turns)
    }
    return rows.length > 0
  }

  async rows(rows) {
    for (const question of rows) {
      try {
        this.take(question, await ask('quick', { turns: question.turns.map(asked) }, undefined, { alone: true }))
      } catch (e) {
        return stopped(e) || this.on.wrong(e, question.first, question)
      }
    }
  }

  // think asks for the whole answer while a point is held still.
  think(turns) {
    const now = JSON.stringify(turns.map(p => p && asked(p)))
    if (now === this.asked || !turns.every(Boolean)) return
    this.asked = now
    this.whole.ask(turns)
  }

  take(question, answer) {
    const { first, count } = question
    this.legs.length = count - 1
    answer.legs.forEach((l, k) => {
      const old = this.legs[first + k]
      // what the whole answer has said holds while it is of the same line
      const same = this.answered && old?.from && old.from.text === l.from.text && old.to.text === l.to.text
      this.legs[first + k] = same ? { ...old, ...l } : l
    })
    this.on.quick(question, answer)
  }

  get shown() { return Array.from(this.legs, l => l ?? null).filter(l => l?.line && l.profile) }
}

// fieldOf is the number of the point that an error is about, or null.
export function fieldOf(e, first, count) {
  if (!(e instanceof Refused)) return null
  if (e.field === 'from') return first
  if (e.field === 'to') return count - 1
  const m = /^turns\[(\d+)\]$/.exec(e.field)
  return m ? first + Number(m[1]) : null
}
