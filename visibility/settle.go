package visibility

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"crowline/dem"
)

// sureSigmas is how many standard deviations from the line of sight ground must
// lie for no draw to bring it there: one in 3 * 10^13 would, and the most that
// are drawn of a line are some 10^7 heights.
const sureSigmas = 7.5

// settle leaves out the ground that cannot come to the line of sight in any draw,
// and finds whether some cannot leave it. How far ground stands over the line is
// a sum of normal errors (of eye, target, the two places the ground lies between,
// and refraction), so its standard deviation is known without a draw.
func (d *draws) settle() {
	if d.first > 0 && !d.fixedEye { // an eye of its own elevation is not a sum
		power := make([]float64, d.nodes)
		power[0] = 1
		for i := 1; i < len(power); i++ {
			power[i] = power[i-1] * d.keep
		}
		last := d.nodes - 1
		rise := d.top - d.lowering*d.endDrop - d.eye
		kept := d.points[:0]
		for _, p := range d.points { // kept is written behind what is read
			f := p.distance / d.length
			under := d.eye + rise*f - p.elevation + d.lowering*p.drop // of the line, metres
			n := p.node
			// weights of the errors at the eye, the target, and the nodes before and after
			e, t, a, b := 1-f, f, p.fraction-1, -p.fraction
			variance := e*e + t*t + a*a + b*b + 2*(e*t*power[last]+e*a*power[n]+e*b*power[n+1]+t*a*power[last-n]+t*b*power[last-n-1]+a*b*power[1])
			bent := d.refract * (p.drop - d.endDrop*f)
			under += GrazingSlope * p.distance
			p.sigmas = under / math.Sqrt(max(1e-12, d.first*d.first*variance+bent*bent)) // errors shared with the eye's cancel
			if p.sigmas < -sureSigmas {
				d.hidden = true
				return // nothing is drawn
			}
			if p.sigmas <= sureSigmas {
				kept = append(kept, p)
			}
		}
		d.points = kept
	}
	for i := range d.points {
		p := &d.points[i]
		if n := len(d.needed); n == 0 || d.needed[n-1] < p.node {
			d.needed = append(d.needed, p.node)
		}
		if d.needed[len(d.needed)-1] == p.node {
			d.needed = append(d.needed, p.node+1)
		}
		p.slot = len(d.needed) - 2
	}
	if last := d.nodes - 1; len(d.needed) == 0 || d.needed[len(d.needed)-1] < last {
		d.needed = append(d.needed, last)
	}
	// what most often hides the target is looked at first
	slices.SortStableFunc(d.points, func(a, b drawn) int { return cmp.Compare(a.sigmas, b.sigmas) })
	d.forget = d.nodes
	if d.keep < 1 {
		d.forget = 1 + int(math.Log(forgotten)/math.Log(d.keep))
	}
}

// forgotten is the share of a node's error left in that of a later one from which
// on it is left out: a thousandth of a millimetre of ten metres.
const forgotten = 1e-7

// lanes are how many grounds are drawn side by side: a node's error waits for
// that of the node before it, and a processor can do some such at once.
const lanes = 4

// stream gives a block's normals, so many for each ground.
type stream struct {
	kept   []float64
	random *rand.Rand // where none are kept
	at     []float64
}

func newStream(seed uint64, block int) *rand.Rand { return rand.New(rand.NewPCG(seed, uint64(block))) }

// next are the next n normals, good until the next call.
func (s *stream) next(n int) []float64 {
	if s.random == nil {
		z := s.kept[:n]
		s.kept = s.kept[n:]
		return z
	}
	if cap(s.at) < n {
		s.at = make([]float64, n)
	}
	for i := range s.at[:n] {
		s.at[i] = s.random.NormFloat64()
	}
	return s.at[:n]
}

// seenOf draws so many grounds, from the eye on, and tells in how many the target
// shows above all of it. A ground takes one normal for the refraction and one for
// each node, whether it is needed or not, so that the same draws serve every
// height of eye and target.
func (d *draws) seenOf(normals *stream, samples int) int {
	seen := 0
	each := d.nodes + 1
	at := make([][lanes]float64, len(d.needed))
	for s := 0; s < samples; s += lanes {
		n := min(lanes, samples-s)
		z := normals.next(n * each)
		var row [lanes][]float64
		for l := range row {
			row[l] = z[min(l, n-1)*each:][:each]
		}
		r0, r1, r2, r3 := row[0][2:], row[1][2:], row[2][2:], row[3][2:]
		b0, b1, b2, b3 := d.first*row[0][1], d.first*row[1][1], d.first*row[2][1], d.first*row[3][1]
		keep, add := d.keep, d.add
		node := 0
		for i, n := range d.needed {
			if n-node > d.forget {
				node = n - d.forget
				b0, b1, b2, b3 = 0, 0, 0, 0
			}
			for ; node < n; node++ {
				b0 = keep*b0 + add*r0[node]
				b1 = keep*b1 + add*r1[node]
				b2 = keep*b2 + add*r2[node]
				b3 = keep*b3 + add*r3[node]
			}
			at[i] = [lanes]float64{b0, b1, b2, b3}
		}
		for l := range n {
			if d.shows(row[l], at, l) {
				seen++
			}
		}
	}
	return seen
}

// shows tells whether the target shows above the ground drawn in a lane.
func (d *draws) shows(z []float64, at [][lanes]float64, lane int) bool {
	lowering := d.lowering - d.refract*z[0]
	a := d.first * z[1]
	eye := d.eye + a
	if d.fixedEye {
		eye = max(d.eye, d.ground+a)
	}
	limit := (d.top+at[len(at)-1][lane]-lowering*d.endDrop-eye)/d.length + GrazingSlope
	for i := range d.points {
		p := &d.points[i]
		h := p.elevation + dem.Lerp(at[p.slot][lane], at[p.slot+1][lane], p.fraction) - lowering*p.drop
		if (h-eye)/p.distance > limit {
			return false
		}
	}
	return true
}

// Normals are the first random numbers of every block of draws, kept for who
// asks how sure many sights are: the same numbers serve every line. The zero
// value is ready, and safe for concurrent use.
type Normals struct {
	mutex  sync.Mutex
	seed   uint64
	blocks []*normalBlock
}

type normalBlock struct {
	mutex  sync.Mutex
	random *rand.Rand
	z      []float64
}

// mostNormals bounds what is kept of a block: 1 MB, lines of 500 posts. Forty
// blocks are drawn of a line at the most.
const mostNormals = 1 << 17

// of gives the first n normals of a block's stream; nil where they are too many
// to keep, of another seed, or n is nil itself.
func (n *Normals) of(seed uint64, block, count int) []float64 {
	if n == nil || count > mostNormals || block >= DefaultSamples/samplesPerBlock {
		return nil
	}
	n.mutex.Lock()
	if n.blocks == nil {
		n.seed = seed
	}
	if n.seed != seed {
		n.mutex.Unlock()
		return nil
	}
	for len(n.blocks) <= block {
		n.blocks = append(n.blocks, &normalBlock{random: newStream(seed, len(n.blocks))})
	}
	b := n.blocks[block]
	n.mutex.Unlock()
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if len(b.z) < count {
		z := slices.Grow(slices.Clone(b.z), count-len(b.z)) // who has the shorter one goes on with it
		for len(z) < count {
			z = append(z, b.random.NormFloat64())
		}
		b.z = z
	}
	return b.z[:count]
}
