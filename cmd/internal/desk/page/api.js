// What is asked of the server, and what is done when it does not answer.

const KEPT = 'crowline-token'
// A short question that has no answer after so long, in milliseconds, has none:
// the server itself gives it half of that.
const SHORT = 10000

// The token comes once, in the address's fragment. It is taken out of the
// address at once, so that it is in no history, bookmark or shared screen.
// A token that is new belongs to a new desk, whose state is not the old one's.
function token() {
  const found = new URLSearchParams(location.hash.slice(1)).get('token')
  if (found !== null) {
    if (found !== sessionStorage.getItem(KEPT)) sessionStorage.clear()
    sessionStorage.setItem(KEPT, found)
    history.replaceState(null, '', location.pathname)
  }
  return sessionStorage.getItem(KEPT) ?? ''
}

const TOKEN = token()
const PAGE = Array.from(crypto.getRandomValues(new Uint8Array(12)), b => (b % 36).toString(36)).join('')
let turn = 0

// Refused is an answer that says no: message is the server's own line.
export class Refused extends Error {
  constructor(status, { code = 'failed', field = '', message = 'crowline desk answered ' + status } = {}) {
    super(message)
    Object.assign(this, { status, code, field })
  }
}

// Gone is no answer at all.
export class Gone extends Error {}

export const stopped = e => e?.name === 'AbortError' || e?.code === 'superseded'

const watchers = []
let gone = false

// onReach calls f(true) when the server answers again, f(false) when it stops.
export function onReach(f) { watchers.push(f) }

function reached(yes) {
  if (gone === !yes) return
  gone = !yes
  for (const f of watchers) f(yes)
  if (gone) look()
}

// look asks every second whether the server is back.
function look() {
  setTimeout(async () => {
    try {
      await request('api/state', { method: 'POST', body: '{"link":"crowline:desk?"}', signal: AbortSignal.timeout(SHORT), headers: { 'Content-Type': 'application/json' } })
      reached(true)
    } catch (e) {
      if (e instanceof Gone) return look()
      reached(true)
    }
  }, 1000)
}

async function request(path, options = {}) {
  let answer
  try {
    answer = await fetch(path, { ...options, headers: { ...options.headers, 'Crowline-Token': TOKEN }, cache: 'no-store', credentials: 'omit' })
  } catch (e) {
    if (e.name === 'AbortError') throw e // TimeoutError is no answer
    throw new Gone('crowline desk does not answer')
  }
  if (answer.ok) return answer
  let said = {}
  try { said = (await answer.json()).error ?? {} } catch { /* no words came with it */ }
  throw new Refused(answer.status, said)
}

async function reach(path, options) {
  for (let tries = 0; ; tries++) {
    try {
      const answer = await request(path, options)
      reached(true)
      return answer
    } catch (e) {
      if (e instanceof Gone) reached(false)
      else if (e instanceof Refused) reached(true)
      if (e.code !== 'busy' || tries === 3) throw e
      await new Promise(r => setTimeout(r, 300 * (tries + 1)))
    }
  }
}

export const get = (path, signal) => reach('api/' + path, { signal })

// post asks a question. Of a kind the latest wins on the server too, so that one
// that was given up stops its work; alone is for questions that are not of one
// row, such as two fields read at once.
export function post(path, body, signal, { alone = false } = {}) {
  if (['place', 'quick', 'state'].includes(path)) signal = AbortSignal.any([AbortSignal.timeout(SHORT), ...(signal ? [signal] : [])])
  const row = alone ? {} : { 'Crowline-Page': PAGE, 'Crowline-Turn': String(++turn) }
  return reach('api/' + path, { method: 'POST', signal, body: JSON.stringify(body), headers: { 'Content-Type': 'application/json', ...row } })
}

export const ask = async (path, body, signal, row) => (await post(path, body, signal, row)).json()

// framed reads a stream of frames, each a byte of kind, four of length, so many
// bytes: how far the work is, then the file in parts. What was cut off is an error.
export async function framed(body, progress) {
  const reader = body.getReader()
  let held = new Uint8Array(0), file = null, whole = false
  const parts = []
  for (;;) {
    const { value, done } = await reader.read()
    if (done) break
    const joined = new Uint8Array(held.length + value.length)
    joined.set(held)
    joined.set(value, held.length)
    held = joined
    for (;;) {
      if (held.length < 5) break
      const length = new DataView(held.buffer, held.byteOffset).getUint32(1, true)
      if (held.length < 5 + length) break
      const kind = String.fromCharCode(held[0]), part = held.slice(5, 5 + length)
      held = held.subarray(5 + length)
      if (kind === 'F') { parts.push(part); continue }
      const said = JSON.parse(new TextDecoder().decode(part))
      if (kind === 'P') progress(said)
      if (kind === 'N') file = said
      if (kind === 'E') throw new Error(said.error?.message ?? said.message)
      if (kind === 'D') {
        if (parts.reduce((sum, p) => sum + p.length, 0) !== said.bytes) throw new Error('the answer came broken: ask again')
        whole = true
      }
    }
  }
  if (!whole || !file) throw new Error('the answer was cut off: ask again')
  return { said: file, parts }
}

// Latest asks one question of a kind at a time. While an answer is under way
// the newest question waits, and those between are dropped. The one under way
// is not cut off for a newer one: at sixty moves a second it would be cut off
// every time, and no answer would come until the hand rests. Stop cuts it off.
export class Latest {
  constructor(answer) { this.answer = answer }

  ask(...question) {
    this.next = question
    if (!this.busy) this.run()
  }

  async run() {
    this.busy = true
    try {
      while (this.next) {
        const question = this.next
        this.next = null
        this.control = new AbortController()
        await this.answer(this.control.signal, ...question)
      }
    } finally {
      this.busy = false
    }
  }

  stop() {
    this.next = null
    this.control?.abort()
  }
}

// Last asks at once and cuts off the question before it: for answers that take
// long, where nobody waits for an old one.
export class Last {
  constructor(answer) { this.answer = answer }

  async ask(...question) {
    this.stop()
    const control = this.control = new AbortController()
    try {
      await this.answer(control.signal, ...question)
    } finally {
      if (this.control === control) this.control = null
    }
  }

  get busy() { return Boolean(this.control) }
  stop() { this.control?.abort(); this.control = null }
}
